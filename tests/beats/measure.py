#!/usr/bin/env python3
"""Measures Letfall's beat finder beside librosa's beat_track, in one run, over the beat set.

  python measure.py PROGRAM OUT SET…      (PROGRAM: the example `beats` of letfall-sound; SET: what generate.py or real_songs.py made)

F, CMLt and AMLt by mir_eval with beats before 5 s left out, tempo right within 4 %, downbeats by the same F; speed on one core.
Letfall four times: unaided, with the first two downbeats given, with the number of beats between them given too, and with a bar anywhere
whose beats are astray by 25 ms as a hand taps them, ten times; and the best of the counts that the editor offers for what it found unaided.
Each set is printed apart. Where a set has beats without the shift that was found between chart and sound, F against those stands below.
Reach: F 0.90 unaided; with a bar by hand 0.97 on steady recordings and 0.95 on rendered pieces; 50 x real time.
"""
import glob, json, os, re, subprocess, sys, time, warnings
os.environ.update(OMP_NUM_THREADS='1', OPENBLAS_NUM_THREADS='1', NUMBA_NUM_THREADS='1')
warnings.simplefilter('ignore')
import mir_eval, numpy as np

ROWS = [('Letfall', 'alone'), ('Letfall, 2 downbeats given', 'given', '--anchored'),
        ('Letfall, first bar counted', 'counted', '--counted')]

OFFERED = ['--half', '--twice', '--three-for-two', '--two-for-three', '--half-a-beat']
SEEDS = 10


def scores(ref, down, est, numbers):
    trim = mir_eval.beat.trim_beats
    r, e = trim(ref), trim(est)
    _, cmlt, _, amlt = mir_eval.beat.continuity(r, e)
    tempo = 60 / np.median(np.diff(est)) if len(est) > 1 else 0
    true = 60 / np.median(np.diff(ref))
    d = mir_eval.beat.f_measure(trim(down), trim(est[numbers == 1])) if numbers is not None else np.nan
    near = [est[np.argmin(abs(est - t))] - t for t in ref] if len(est) else []
    off = np.median([x for x in near if abs(x) < .07] or [np.nan]) * 1e3
    return mir_eval.beat.f_measure(r, e), cmlt, amlt, float(abs(tempo / true - 1) <= .04), d, off


def letfall(program, files, out, *more):
    os.makedirs(out, exist_ok=True)
    said = subprocess.run([program, out, *more, *files], check=True, capture_output=True, text=True).stdout
    speed = float(re.search(r'([\d.]+) x real time', said).group(1))
    return [np.loadtxt(os.path.join(out, os.path.basename(f)[:-4] + '.txt'), ndmin=2) for f in files], speed


def main():
    program, out, *sets = sys.argv[1:]
    for folder in sets:
        print(f'\n== {os.path.basename(folder)}')
        measured(program, folder, os.path.join(out, os.path.basename(folder)))


def measured(program, folder, out):
    files = sorted(glob.glob(folder + '/*.wav'))
    truth = [json.load(open(f[:-4] + '.json')) for f in files]
    import librosa
    def track(f):
        y, sr = librosa.load(f, sr=22050)
        return librosa.beat.beat_track(y=y, sr=sr, units='time', trim=False)[1], len(y) / sr
    track(files[0])                                       # compiles
    begin = time.time(); other = [track(f) for f in files]
    other_speed = sum(s for _, s in other) / (time.time() - begin)
    rows = {'librosa beat_track': ([(b, None) for b, _ in other], other_speed)}
    for name, folder, *more in ROWS:
        found, speed = letfall(program, files, os.path.join(out, folder), *more)
        rows[name] = ([(e[:, 0], e[:, 1]) for e in found], speed)
    by_hand = [letfall(program, files, os.path.join(out, 'hand'), '--hand', str(seed)) for seed in range(SEEDS)]
    # What one click of a person can make of the unaided count: whichever of the offered ones has the best F.
    offered = [rows['Letfall']] + [([(e[:, 0], e[:, 1]) for e in found], speed) for found, speed in
                                   (letfall(program, files, os.path.join(out, more[2:]), more) for more in OFFERED)]
    fm = lambda j, e: mir_eval.beat.f_measure(mir_eval.beat.trim_beats(np.array(j['beats'])), mir_eval.beat.trim_beats(e[0]))
    rows['Letfall, best of its offers'] = ([max((o[0][i] for o in offered), key=lambda e: fm(j, e)) for i, j in enumerate(truth)], min(s for _, s in offered))
    table = {n: [scores(np.array(j['beats']), np.array(j['downbeats']), *b) for j, b in zip(truth, r[0])] for n, r in rows.items()}
    hands = np.array([[fm(j, (e[:, 0], e[:, 1])) for j, e in zip(truth, found)] for found, _ in by_hand])
    print('per file: F / CMLt / AMLt')
    for i, f in enumerate(files):
        print(f'{os.path.basename(f)[:-4]:24s}', '   '.join('%.2f / %.2f / %.2f' % table[n][i][:3] for n in rows))
    print(f"\n{'':28s}    F   CMLt   AMLt  tempo  downbeat F  median off ms  x real time")
    for n, (_, speed) in rows.items():
        m = np.array(table[n], float)
        print(f"{n:28s} {m[:, 0].mean():.3f}  {m[:, 1].mean():.3f}  {m[:, 2].mean():.3f}  {int(m[:, 3].sum()):2d}/{len(m)}       {np.nanmean(m[:, 4]) if not np.isnan(m[:, 4]).all() else float('nan'):.3f}          {np.nanmedian(m[:, 5]):5.1f}       {speed:6.0f}")

    print(f"a bar by hand, {SEEDS} times: F {hands.mean():.3f}, median {np.median(hands):.3f}, worst {hands.min():.3f} ({os.path.basename(files[hands.min(0).argmin()])[:-4]})")
    if 'beats_plain' in truth[0]:
        plain = {n: np.mean([fm({'beats': j['beats_plain']}, b) for j, b in zip(truth, r[0])]) for n, r in rows.items()}
        print('without the shift: ' + ', '.join(f'{n} F {v:.3f}' for n, v in plain.items()))


if __name__ == '__main__':
    main()
