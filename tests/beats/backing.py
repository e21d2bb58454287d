"""Makes MIDI files in the styles that bands play, to teach the beat finder on: the grooves of the package mma (GPL) under chords
and a tune made up here, and the dance tunes of the music21 corpus (public domain) with a simple accompaniment.

Both write a file whose time signature counts as people do; teach_set.py bends, mixes and renders it.
"""
import glob, os, re, subprocess
import mido, numpy as np

LIBRARY = '/usr/share/mma/lib'
LEADS = [0, 4, 11, 22, 24, 25, 40, 52, 56, 57, 60, 65, 66, 68, 71, 73, 75, 80]
CHORDS = ['', 'm', '7', 'm7', 'maj7', '6']
NAMES = 'C Db D Eb E F Gb G Ab A Bb B'.split()
# What the library says of its tempos (and common practice, no source): quarters a minute.
TEMPOS = [(r'nitejazz|mellowjazz|slow|lullaby', 52, 84), (r'ballad', 56, 92), (r'hymn|spiritual|evans', 66, 112),
          (r'charleston|fast(swing|blues)|broadway$|bebop|quickstep|dixie|bwmarch', 170, 245),
          (r'polka|ska|samba|merengue|ragtime|zydeco|bluegrass|hillcountry|gypsy|jive|twist', 160, 230),
          (r'fast(jazz)?waltz|vienese', 150, 215), (r'jazzwaltz', 88, 190), (r'waltz', 82, 180), (r'jazz-54', 110, 180),
          (r'swing|bigband|foxtrot|strut|boggie|jazz', 104, 210), (r'march', 100, 126), (r'128', 56, 88),
          (r'funk|rb|soul|reggae|trance|8beat|rock|disco|house|bounce', 84, 142), (r'', 84, 150)]


def scaled(messages, ticks, tempo, metre):
    """A file of absolute messages."""
    m = mido.MidiFile(type=0, ticks_per_beat=ticks); t = mido.MidiTrack(); m.tracks.append(t); last = 0
    t.append(mido.MetaMessage('set_tempo', tempo=tempo)); t.append(mido.MetaMessage('time_signature', numerator=metre[0], denominator=metre[1]))
    for at, x in sorted(messages, key=lambda e: (e[0], e[1].type != 'note_off')):
        t.append(x.copy(time=max(0, round(at) - last))); last = max(last, round(at))
    return m


def note(out, ch, key, vel, at, length):
    out.append((at, mido.Message('note_on', channel=ch, note=int(np.clip(key, 21, 108)), velocity=int(np.clip(vel, 10, 127)))))
    out.append((at + max(1, length), mido.Message('note_off', channel=ch, note=int(np.clip(key, 21, 108)))))


def grooves():
    """Every library file with its metre and the grooves that can carry a whole song."""
    out = []
    for p in sorted(glob.glob(LIBRARY + '/*/*.mma')):
        name = os.path.basename(p)[:-4].lower()
        if name.startswith(('metronome', 'none')): continue
        time, found = None, []
        for line in open(p, errors='replace'):
            if x := re.match(r'\s*Time\s+(\d+)', line, re.I): time = int(x.group(1))
            if x := re.match(r'\s*DefGroove\s+(\S+)', line, re.I):
                if not re.search(r'intro|end|fill|solo$', x.group(1), re.I) and time: found.append((x.group(1), time))
        if found: out.append((name, found))
    return out


def grooved(seed, out):
    """A song over a groove; None when the library has it not."""
    rng = np.random.default_rng([seed, 77])
    libs = grooves(); name, found = libs[seed % len(libs)]
    groove, time = found[int(rng.integers(len(found)))]
    low, high = next((a, b) for pat, a, b in TEMPOS if re.search(pat, name))
    counted = np.exp(rng.uniform(np.log(low), np.log(high)))
    six = time == 6 and re.search(r'68|ballad', name)       # six quarters stand for six eighths there
    if six: counted = np.exp(rng.uniform(np.log(44), np.log(112)))
    bpm = counted * 3 if six else counted
    bars = max(8, int(np.ceil(62 * bpm / 60 / time)))
    root, minor = int(rng.integers(12)), rng.random() < .35
    degrees = [0, 3, 5, 7, 8, 10] if minor else [0, 2, 4, 5, 7, 9]
    form = [(int(rng.choice(degrees)), CHORDS[int(rng.choice(6, p=[.4, .2, .16, .12, .06, .06]))]) for _ in range(int(rng.choice([4, 8, 8, 16])) * 2)]
    form[0] = (0, 'm' if minor else '')
    often = rng.random() < .35                               # two chords a bar
    text = [f'Tempo {bpm:.3f}', f'Groove {groove}']
    said = lambda k: NAMES[(root + form[k % len(form)][0]) % 12] + form[k % len(form)][1]
    for bar in range(bars):
        line = said(2 * bar)
        if often and time % 2 == 0: line += ' / ' * (time // 2 - 1) + ' ' + said(2 * bar + 1)
        text.append(f'{bar + 1} {line}')
    src = out[:-4] + '.mma'; open(src, 'w').write('\n'.join(text) + '\n')
    made = subprocess.run(['mma', '-f', out + '.tmp', src], capture_output=True, text=True); os.remove(src)
    if not os.path.exists(out + '.tmp'): return print('left out', name, made.stdout[-200:])
    m = mido.MidiFile(out + '.tmp', clip=True); os.remove(out + '.tmp')
    tpb = m.ticks_per_beat; messages = []
    for t in m.tracks:
        at = 0
        for x in t:
            at += x.time
            if not x.is_meta and not x.type.startswith('sysex'): messages.append((at, x))
    if rng.random() < .75:
        free = next((c for c in range(16) if c != 9 and not any(x.channel == c for _, x in messages if hasattr(x, 'channel'))), 0)
        messages.append((0, mido.Message('program_change', channel=free, program=int(rng.choice(LEADS)))))
        scale = [0, 2, 3, 5, 7, 8, 10] if minor else [0, 2, 4, 5, 7, 9, 11]
        d, b, end, busy = 3, 0.0, bars * time, rng.uniform(.1, .7)
        swing, motif = re.search(r'swing|jazz|blues|128|foxtrot|boogie|boggie|bop', name), []
        while b < end:
            if b % (time * 4) < 1e-6: motif = motif if rng.random() < .4 else []
            if not motif:
                left = float(time * int(rng.choice([1, 2])))
                while left > 1e-6:
                    length = float(min(left, rng.choice([.5, 1, 1.5, 2, 3], p=[.2 + .4 * busy, .3, .1, .25 - .2 * busy, .15 - .2 * busy])))
                    motif.append((length, int(rng.integers(-2, 3)), rng.random() < .9)); left -= length
                repeat = list(motif)
            length, step, on = motif.pop(0)
            d = int(np.clip(d + step, -2, 10))
            place = np.floor(b) + (2 / 3 if swing and b % 1 >= .5 else b % 1)
            if on: note(messages, free, 60 + root - 12 * (root > 6) + scale[d % 7] + 12 * (d // 7), rng.normal(88, 8), place * tpb, length * .9 * tpb)
            b += length
            if not motif and rng.random() < .4: motif = list(repeat)
    metre = (6, 8) if six else {2: (2, 4), 3: (3, 4), 4: (4, 4), 5: (5, 4), 6: (6, 4)}.get(time)
    if metre is None: return None
    scaled(messages, tpb * 2 if six else tpb, round(60e6 / (bpm / 2 if six else bpm)), metre).save(out)
    return out


def tune(path, seed, out):
    """A dance tune with bass and chords as a village band would put them, or alone."""
    from music21 import converter
    rng = np.random.default_rng([seed, 78])
    sc = converter.parse(path); part = sc.parts[0] if sc.parts else sc
    measures = list(part.getElementsByClass('Measure'))
    full = max((float(x.barDuration.quarterLength) for x in measures[:3]), default=0)
    ts = measures[0].timeSignature or next((x.timeSignature for x in measures if x.timeSignature), None)
    key = next(iter(part.recurse().getElementsByClass('KeySignature')), None)
    if ts is None or not full: return None
    sharps = key.sharps if key else 0; tonic = (sharps * 7) % 12
    notes, at, done = [], 0.0, 0.0
    for k, x in enumerate(measures):
        length = min(full, float(x.duration.quarterLength))
        if k == 0 and length < full: done = full - length           # the tune begins within a bar
        if done + length > full + 1e-6: return None                  # its bars cannot be told
        for n in x.recurse().notes:
            for p in n.pitches: notes.append((at + done + float(n.getOffsetInHierarchy(x)), p.midi, float(n.duration.quarterLength)))
        done += length                                               # a repeat may stand within a bar
        if done > full - 1e-6: at, done = at + full, 0.0
    if done: at += full
    if len(notes) < 40: return None
    compound = ts.denominator == 8 and ts.numerator % 3 == 0 and ts.numerator > 3
    beat = 1.5 if compound else 4 / ts.denominator
    count = round(full / beat)
    triads = [[(tonic + r) % 12, (tonic + t) % 12, (tonic + f) % 12] for r, t, f in ([0, 4, 7], [5, 9, 0], [7, 11, 2], [9, 0, 4], [2, 5, 9])]
    liked = [1.25, 1.1, 1.15, .9, .85]
    messages, T = [], 960
    again = 1 if at > 90 else 2
    kind = rng.choice(['none', 'vamp', 'block', 'bass', 'busy'], p=[.15, .35, .15, .15, .2])
    drums = rng.random() < .3
    for ch, p in ((0, rng.choice([0, 21, 22, 24, 25, 105, 46])), (1, rng.choice([32, 43, 0, 58, 33])), (2, rng.choice([40, 73, 72, 21, 22, 25, 71, 110, 109, 75]))):
        messages.append((0, mido.Message('program_change', channel=ch, program=int(p))))
    for turn in range(again):
        base = turn * at
        for b, k, length in notes: note(messages, 2, k, rng.normal(92, 6) + 8 * (b % full == 0), (base + b) * T, length * .92 * T)
        for bar in range(int(at / full)):
            a = bar * full
            inside = [(k % 12, d * (1.5 if (b - a) % beat == 0 else 1)) for b, k, d in notes if a <= b < a + full]
            chord = triads[int(np.argmax([w * sum(d for k, d in inside if k in c) for c, w in zip(triads, liked)]))] if inside else triads[0]
            for n in range(count):
                t = base + a + n * beat; strong = n == 0
                if kind == 'none': pass
                elif kind == 'bass':
                    if strong or count == 2 or n == 2: note(messages, 1, 36 + chord[0 if n % 2 == 0 else 2], 92, t * T, beat * .9 * T)
                elif kind == 'block':
                    for k in chord: note(messages, 0, 55 + (k - 55) % 12, 78 + 10 * strong, t * T, beat * .9 * T)
                    if strong: note(messages, 1, 36 + chord[0], 92, t * T, beat * T)
                else:
                    waltz = count == 3 and not compound
                    if not waltz or strong: note(messages, 1, 36 + chord[0 if n % 2 == 0 else 2], 90 + 8 * strong, t * T, beat * .6 * T)
                    off = beat * (2 / 3 if compound else .5)
                    if waltz:
                        for k in chord * (not strong): note(messages, 0, 55 + (k - 55) % 12, 74, t * T, beat * .5 * T)
                    else:
                        for k in chord: note(messages, 0, 55 + (k - 55) % 12, 74, (t + off) * T, beat * .3 * T)
                    if kind == 'busy':
                        for s in ((1 / 3, 2 / 3) if compound else (.25, .75)):
                            for k in chord[:2]: note(messages, 0, 55 + (k - 55) % 12, 58, (t + beat * s) * T, beat * .2 * T)
                if drums:
                    note(messages, 9, 36 if strong or count == 2 else 38, 84, t * T, T / 8)
                    for s in ((1 / 3, 2 / 3) if compound else (.5,)): note(messages, 9, 42, 62, (t + beat * s) * T, T / 8)
    low, high = (84, 132) if compound or ts.denominator == 2 else (58, 150) if count > 2 else (66, 122)
    bpm = np.exp(rng.uniform(np.log(low), np.log(high)))
    scaled(messages, T, round(60e6 / (bpm * beat)), (ts.numerator, ts.denominator)).save(out)
    return out
