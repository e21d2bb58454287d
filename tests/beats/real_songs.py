#!/usr/bin/env python3
"""Real recordings with known beats: the songs of the Debian package fretsonfire-songs-sectoid, whose charts tell one tempo each.

  python real_songs.py OUT      (writes OUT/NAME.wav, the song with its guitar, and OUT/NAME.json)

Chart and sound usually lie some hundredths of a second apart. By how much is found from the sound alone, the same for every tracker and
with none of them: the level in the band of the bass drum and above the cymbals rises at drum hits; at the chart's own period those rises
are folded, and the shift is where they are strongest within 60 ms of the chart's beats, or within 60 ms of the halves between them where
bass and snare say that the chart lies half a beat off (printed; both figures stand in the JSON as `shift` and `half`). `beats_plain` are
the chart's beats without any shift.
"""
import glob, json, os, struct, subprocess, sys
import numpy as np

SONGS = '/usr/share/games/fretsonfire/data/songs/sectoid'
RATE = 44100


def tempo(path):
    """Microseconds of a quarter note. All charts here have one tempo; more than one value is an error."""
    data, found, at = open(path, 'rb').read(), set(), 0
    while (at := data.find(b'\xff\x51\x03', at)) >= 0:
        found.add(int.from_bytes(data[at + 3:at + 6], 'big'))
        at += 6
    assert len(found) == 1, (path, found)
    return found.pop()


def rises(y, low, high, rate=RATE, hop=88):
    """How the level of a band rises, about 500 times a second: by the spectrum of short windows."""
    n = 1024
    w = np.hanning(n)
    frames = np.lib.stride_tricks.sliding_window_view(np.pad(y, n // 2), n)[::hop]
    f = np.fft.rfftfreq(n, 1 / rate)
    band = (f >= low) & (f < high)
    e = np.concatenate([(np.abs(np.fft.rfft(part * w)) ** 2)[:, band].sum(1) for part in np.array_split(frames, 64)])
    level = np.log(e + 1e-3 * e.mean())
    rise = np.maximum(0, level[6:] - level[:-6])
    return np.arange(len(rise)) * hop / rate + 3 * hop / rate, rise


def folded(t, rise, period, at):
    """The mean rise within 15 ms of every beat that lies at `at` in its period."""
    turn = ((t - at) / period + .5) % 1 - .5
    near = np.abs(turn * period) < .015
    return rise[near].mean()


def main():
    out = sys.argv[1]
    os.makedirs(out, exist_ok=True)
    for folder in sorted(glob.glob(SONGS + '/*/')):
        name = os.path.basename(folder.rstrip('/')).lower().replace(' ', '_')
        wav = os.path.join(out, name + '.wav')
        subprocess.run(['ffmpeg', '-y', '-loglevel', 'error', '-i', folder + 'song.ogg', '-i', folder + 'guitar.ogg', '-filter_complex',
                        'amix=inputs=2:duration=longest:normalize=0,volume=0.6', '-ac', '1', '-ar', str(RATE), wav], check=True)
        raw = subprocess.run(['ffmpeg', '-loglevel', 'error', '-i', wav, '-f', 'f32le', '-'], check=True, capture_output=True).stdout
        y = np.frombuffer(raw, np.float32)
        period = tempo(folder + 'notes.mid') / 1e6
        bass, high = rises(y, 30, 130), rises(y, 6000, 16000)
        snare = rises(y, 1500, 4000)
        grid = np.arange(-.06, .0601, .002)
        near = lambda half: max((folded(*bass, period, s + half) + folded(*high, period, s + half) / 2, s) for s in grid)
        on, between = near(0), near(period / 2)
        # Bass drum and snare stand on beats in this music; cymbals stand on both.
        says = {k: (folded(*v, period, on[1]), folded(*v, period, between[1] + period / 2)) for k, v in {'bass': bass, 'snare': snare}.items()}
        half = sum(a for a, _ in says.values()) < sum(b for _, b in says.values())
        shift = (between[1] + period / 2) if half else on[1]
        loud = np.abs(y) > np.abs(y).max() * .02
        first, last = np.argmax(loud) / RATE, (len(loud) - np.argmax(loud[::-1])) / RATE
        beats = [k * period for k in range(int(last / period) + 2)]
        inside = lambda s: [round(b + s, 6) for b in beats if first - .05 <= b + s <= last]
        row = inside(shift)
        sides = {k: [round(float(x), 3) for x in v] for k, v in says.items()}
        print(f'{name}: {60 / period:.2f} a minute, {len(row)} beats, shift {shift * 1e3:+.0f} ms, half a beat off: {half}; rises on and between beats {sides}')
        json.dump({'beats': row, 'beats_plain': inside(0), 'downbeats': row[::4], 'shift': float(shift), 'half': bool(half)}, open(os.path.join(out, name + '.json'), 'w'))


if __name__ == '__main__':
    main()
