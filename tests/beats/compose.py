"""Makes up pieces of music with known beats, to teach the beat finder on: nobody's tune, and as many as are wanted.

A piece is a list of notes (start s, channel, key, velocity, length s), a program for each channel, and its beats
[(time s, number in bar)]. Everything comes from the seed."""
import numpy as np

SCALES = [[0, 2, 4, 5, 7, 9, 11], [0, 2, 3, 5, 7, 8, 10], [0, 2, 3, 5, 7, 9, 10]]
LEADS = [0, 4, 11, 21, 22, 24, 25, 40, 42, 52, 56, 57, 60, 61, 65, 66, 68, 71, 73, 80, 81]
PADS = [0, 4, 16, 19, 24, 25, 26, 46, 48, 49, 50, 52, 61, 89]
BASSES = [32, 33, 34, 35, 38, 43, 58, 0, 19]
KICK, SNARE, RIM, HAT, OPEN, RIDE, CRASH, TOM, TAMB, CLAP = 36, 38, 37, 42, 46, 51, 49, 45, 54, 39


def tempo_curve(rng, beats, bpm):
    """Beat lengths in seconds: steady, wandering, stepping, or moving evenly."""
    kind = rng.choice(['steady', 'wander', 'step', 'ramp', 'rubato', 'ritard'], p=[.42, .16, .1, .12, .1, .1])
    k = np.arange(beats)
    f = np.ones(beats)
    if kind == 'wander':
        v = np.cumsum(rng.normal(0, .012, beats))
        f = np.exp(np.clip(v - v.mean(), -.12, .12))
    elif kind == 'step':
        for at in rng.integers(8, max(9, beats - 8), rng.integers(1, 4)):
            f[at:] *= rng.uniform(.78, 1.28)
        f = np.clip(f, .6, 1.6)
    elif kind == 'ramp':
        a, b = sorted(rng.integers(0, beats, 2))
        f = np.interp(k, [0, a, max(b, a + 8), beats + 8], [1, 1, r := rng.uniform(.65, 1.45), r])
    elif kind == 'rubato':
        per = rng.uniform(8, 40)
        f = np.exp(rng.uniform(.03, .12) * np.sin(k / per * 2 * np.pi + rng.uniform(0, 6)))
    elif kind == 'ritard':
        every = int(rng.integers(16, 48))
        depth = rng.uniform(.2, .5)
        f = 1 + depth * np.clip(1 - ((-k) % every) / 4, 0, 1) * ((k % every) > every / 2)
        f = 1 / f
    return 60 / (bpm * f)


def compose(seed):
    rng = np.random.default_rng(seed)
    metre = rng.choice(['4/4', '3/4', '2/4', '6/8', '12/8', '9/8', '5/4'], p=[.48, .2, .08, .14, .05, .03, .02])
    per = {'4/4': 4, '3/4': 3, '2/4': 2, '6/8': 2, '12/8': 4, '9/8': 3, '5/4': 5}[metre]
    triple = metre.endswith('/8')
    swing = not triple and rng.random() < .18
    style = rng.choice(['band', 'ballad', 'hymn', 'dance', 'march', 'strings', 'arp'], p=[.28, .12, .16, .14, .12, .08, .1])
    low, high = (48, 135) if triple else (56, 205)
    if style in ('hymn', 'strings'):
        low, high = (46, 100) if triple else (54, 125)
    if metre == '3/4' and style != 'hymn':
        low, high = 76, 205
    bpm = np.exp(rng.uniform(np.log(low), np.log(high)))
    secs = rng.uniform(38, 60)
    beats = int(secs * bpm / 60 // per * per)
    lead = rng.uniform(0, 2.5)
    at = lead + np.concatenate([[0], np.cumsum(tempo_curve(rng, beats, bpm))])
    off = int(rng.integers(0, per)) if rng.random() < .15 else 0     # the piece begins within a bar
    num = [(k + off) % per + 1 for k in range(beats)]
    jitter = rng.choice([0, .003, .008, .014])
    time = lambda b: float(np.interp(b, np.arange(beats + 1), at))
    notes = []

    def put(b, ch, key, vel, length):
        if 0 <= b < beats:
            t = time(b)
            notes.append((max(0, t + rng.normal(0, jitter) if jitter else t), ch, int(np.clip(key, 21, 108)),
                          int(np.clip(vel + rng.normal(0, 5), 8, 127)), max(.05, time(min(b + length, beats)) - t)))

    def sub(n):
        """Places of n notes in one beat, swung if the piece swings."""
        if triple:
            return [i / 3 for i in range(3)] if n == 2 else [i / 6 for i in range(6)]
        if n == 2:
            return [0, 2 / 3 if swing else .5]
        return [0, 1 / 3, 2 / 3, 5 / 6] if swing else [i / 4 for i in range(4)]

    scale, root = SCALES[rng.integers(3)], int(rng.integers(40, 52))
    degree = lambda d, octave=0: root + scale[d % 7] + 12 * (d // 7 + octave)
    change = rng.choice([1, .5, 2], p=[.7, .18, .12])               # chords a bar
    loop = int(rng.choice([2, 4, 8]))
    chords = rng.choice([0, 1, 2, 3, 4, 5], loop * 2, p=[.3, .08, .08, .2, .2, .14])
    chord_at = lambda b: chords[int((b + off) / per * change) % len(chords)]
    bars = -(-(beats + off) // per)
    drums = style in ('band', 'dance') or (style in ('march', 'ballad', 'arp') and rng.random() < .55)
    accent = rng.choice([0, 10, 22])
    program = {0: int(rng.choice(PADS)), 1: int(rng.choice(BASSES)), 2: int(rng.choice(LEADS)), 3: int(rng.choice(PADS))}
    if style == 'hymn':
        p = int(rng.choice([19, 52, 48, 61, 60, 0, 57, 20, 53, 16]))
        program = {i: p for i in range(4)}
    silent = {ch: set() for ch in (0, 1, 2, 3, 9)}                    # bars in which a part rests
    for ch in silent:
        if rng.random() < .5:
            a = int(rng.integers(0, bars))
            silent[ch] |= set(range(a, a + int(rng.integers(2, 9))))
    rest = lambda ch, b: int((b + off) // per) in silent[ch]
    # drums: a pattern of one or two bars on a grid of halves or quarters of a beat
    if drums:
        n = 4 if rng.random() < .45 and bpm < 130 else 2
        places = [(b, s) for b in range(per) for s in sub(n)]
        half = rng.random() < .15 and per == 4                        # half time: one backbeat a bar
        pattern = []
        for b, s in places:
            on = s == 0
            if style == 'dance':
                k = on
            elif triple:
                k = on and (b == 0 or rng.random() < .4) or (not on and rng.random() < .08)
            else:
                k = (b == 0 and on) or (on and b == 2 and per == 4 and not half and rng.random() < .8) or rng.random() < (.16 if not on else .1)
            back = ((b == 2) if half else (b % 2 == 1)) if per in (2, 4) else (b > 0 if per == 3 else b in (1, 3))
            sn = (on and back and rng.random() < .93) or (not on and rng.random() < .05)
            h = rng.random() < (.95 if on else .8 if s in (.5, 2 / 3, 1 / 3) else .5)
            pattern.append((b, s, k, sn, h))
        if swing and rng.random() < .6:
            pattern = [(b, s, b % 2 == 0 and s == 0 and rng.random() < .5, b % 2 == 1 and s == 0 and rng.random() < .4, s == 0 or (b % 2 == 1 and s > .5)) for b, s, *_ in pattern]
        hat, back_key = (RIDE if rng.random() < .3 else HAT), int(rng.choice([SNARE, 40, RIM, CLAP]))
        fill, crash = int(rng.choice([4, 8, 16])), rng.random() < .5
        for bar in range(bars):
            base = bar * per - off
            if rest(9, base + .01):
                continue
            if crash and bar % fill == 0:
                put(base, 9, CRASH, 100, 1)
            filling = bar % fill == fill - 1 and rng.random() < .6
            for b, s, k, sn, h in pattern:
                if k: put(base + b + s, 9, KICK, 100 + (accent if b == 0 else 0) / 2, .2)
                if sn and not filling: put(base + b + s, 9, back_key, 96, .2)
                if h: put(base + b + s, 9, hat, 74 + 14 * (s == 0), .2)
            if filling:
                for s in np.arange(per - int(rng.integers(1, per)), per, .5 if swing or triple else .25):
                    if rng.random() < .8: put(base + s, 9, rng.choice([SNARE, TOM, 47, 43]), 95, .2)
    # harmony
    comp = {'hymn': 'block', 'strings': 'held', 'march': 'pah', 'arp': 'arp', 'ballad': rng.choice(['arp', 'held', 'block'])}.get(style) or rng.choice(['held', 'block', 'off', 'arp', 'stab'])
    stab = rng.random(per * 4) < .25
    for b in range(beats):
        if rest(0, b) and comp != 'block':
            continue
        c, d = chord_at(b), (b + off) % per
        tones = [degree(c, 1), degree(c + 2, 1), degree(c + 4, 1)]
        soft = 62 + (accent if d == 0 else 0)
        if comp == 'block':
            for key in tones + [degree(c, 0)]: put(b, 0, key, soft + 12, .95)
            if rng.random() < .22:
                put(b + sub(2)[1], 0, tones[int(rng.integers(3))] + 2, soft, .5)
        elif comp == 'held' and (d == 0 or chord_at(b) != chord_at(b - 1)):
            for key in tones: put(b, 0, key, soft + 4, per / max(change, 1) * .98)
        elif comp == 'pah':
            if d > 0 or per == 1:
                for key in tones: put(b, 0, key, soft + 8, .4)
            if triple:
                for s in (1 / 3, 2 / 3):
                    for key in tones: put(b + s, 0, key, soft, .25)
        elif comp == 'off':
            for s in sub(2)[1:]:
                for key in tones: put(b + s, 0, key, soft + 8, .3)
        elif comp == 'arp':
            for i, s in enumerate(sub(2 if bpm > 100 or triple else 4)):
                put(b + s, 0, (tones + [degree(c, 2)])[(i + 2 * d) % 4], soft + 8 * (s == 0), .6)
        elif comp == 'stab':
            for i in range(4):
                if stab[d * 4 + i]:
                    for key in tones: put(b + (sub(4)[i] if not triple else i / 3 if i < 3 else 0), 0, key, soft + 16, .3)
    # bass
    walk = rng.choice(['root', 'beats', 'fifths', 'rhythm'], p=[.3, .25, .25, .2]) if not swing else 'beats'
    riff = [(b, s) for b in range(per) for s in sub(2) if (b == 0 and s == 0) or rng.random() < .42]
    if style != 'hymn' and rng.random() < .9:
        for bar in range(bars):
            base = bar * per - off
            if rest(1, base + .01): continue
            c = chord_at(base + .001)
            if walk == 'root': put(base, 1, degree(c, -1), 92 + accent / 2, per * .95)
            elif walk == 'beats':
                for b in range(per): put(base + b, 1, degree(chord_at(base + b + .001) + int(rng.choice([0, 0, 2, 4])) * (b > 0), -1), 88 + accent / 2 * (b == 0), .9)
            elif walk == 'fifths':
                for b in range(0, per, 2 if per in (4, 2) else per): put(base + b, 1, degree(c + (4 if b else 0), -1), 92 + accent / 2 * (b == 0), 1)
            else:
                for b, s in riff: put(base + b + s, 1, degree(c, -1), 90, .45)
    # melody, loosely tied to the beat
    busy, sync, d, b = rng.uniform(.25, .9), rng.choice([0, .1, .3]), int(rng.integers(0, 7)), 0.0
    if rng.random() < .85:
        while b < beats:
            length = rng.choice([.5, 1, 1.5, 2, 3], p=[.25 + .2 * busy, .35, .1, .2 - .1 * busy, .1 - .1 * busy]) if not triple else rng.choice([1 / 3, 2 / 3, 1, 2], p=[.3, .25, .35, .1])
            if not triple and rng.random() < sync: length = .5
            d = int(np.clip(d + rng.integers(-2, 3), -3, 10))
            place = b if not swing else np.floor(b) + (2 / 3 if b % 1 >= .5 else 0)
            if rng.random() < .88 and not rest(2, b):
                put(place, 2, degree(d, 2), 84 + (accent if (int(b) + off) % per == 0 and b % 1 < .01 else 0), length * .9)
                if style == 'hymn': put(place, 2, degree(d - 2, 2), 74, length * .9)
            b += float(length)
    if style in ('hymn', 'strings') and (own := np.random.default_rng([seed, 3])).random() < .55:
        # a voice that walks in halves of the beat: slow music is full of them, and is counted slowly all the same
        up, walks, d = int(own.integers(0, 3)), own.uniform(.4, 1), 0
        for b in range(beats):
            if own.random() < walks:
                for s in (sub(4) if bpm < 70 and own.random() < .25 else sub(2)):
                    d = int(np.clip(d + own.integers(-1, 2), -2, 4))
                    put(b + s, own.choice([0, 3]), degree(chord_at(b) + d, up), 66, .4)
    return notes, program, [(float(at[k]), num[k]) for k in range(beats)], dict(metre=str(metre), bpm=round(float(bpm), 1), style=str(style))
