"""Songs of free games: the MIDI files of Debian packages, those inside a game's one data file among them.

Left out is what cannot teach: notes that do not stand on the beats that the file tells (recorded from a clock of another rate),
and files without a metre whose bars are plainly not of four beats.
"""
import glob, hashlib, os, struct
import mido, numpy as np
import generate as g
PACKAGES = ['freedoom', 'freedm', 'freedink-data', 'planetblupi-music-midi']      # BSD, BSD, GPL and zlib, GPL


def lumps(path):
    """(name, bytes) of every MIDI file in a data file: a directory at the place that its head tells (u32 counts, little-endian)."""
    d = open(path, 'rb').read()
    count, at = struct.unpack('<II', d[4:12])
    for k in range(count):
        start, size, name = struct.unpack('<II8s', d[at + 16 * k:at + 16 * k + 16])
        if d[start:start + 4] == b'MThd': yield name.rstrip(b'\0').decode('ascii'), d[start:start + size]


def onsets(m):
    """Rows of beats (quarter notes) from the start, channel, key."""
    out = []
    for t in m.tracks:
        at = 0
        for x in t:
            at += x.time
            if x.type == 'note_on' and x.velocity > 0: out.append((at / m.ticks_per_beat, x.channel, x.note))
    return np.array(sorted(out))


def likeness(on, steps):
    """How alike the music is to itself so many quarters of a beat later: 0 to 1."""
    at = np.round(on[:, 0] * 4).astype(int)
    x = np.zeros((at.max() + 1, 140))
    x[at, np.where(on[:, 1] == 9, on[:, 2] + 12, on[:, 2] % 12).astype(int)] = 1
    a, b = x[:-steps], x[steps:]
    return (a * b).sum() / np.sqrt((a * a).sum() * (b * b).sum() + 1e-9)


def teaches(path):
    try: m = mido.MidiFile(path, clip=True)
    except Exception: return False
    on = onsets(m)
    if len(on) < 200 or on[:, 0].max() < 40: return False
    part = on[:, 0] % 1
    if np.mean(np.minimum(part, 1 - part) < .04) < .23: return False         # by chance it would be 0.08
    told = any(x.type == 'time_signature' for t in m.tracks for x in t)
    return told or max(likeness(on, k) for k in (16, 32)) >= max(likeness(on, k) for k in (12, 20, 24, 28))


def songs(cache):
    """[(path, name)], the same song once."""
    seen, out = set(), []
    for package in PACKAGES:
        d = g.fetch('apt', package, cache)
        inside = os.path.join(d, 'lumps'); os.makedirs(inside, exist_ok=True)
        for wad in sorted(glob.glob(d + '/**/*.wad', recursive=True)):
            for name, data in lumps(wad):
                open(os.path.join(inside, f'{os.path.basename(wad)[:-4]}_{name}.mid'), 'wb').write(data)
        for p in sorted(glob.glob(d + '/**/*.mid', recursive=True)):
            same = hashlib.md5(open(p, 'rb').read()).hexdigest()
            if same not in seen and teaches(p): out.append((p, f"{package.split('-')[0]}_{os.path.basename(p)[:-4]}"))
            seen.add(same)
    return out
