#!/usr/bin/env python3
"""Teaches the small network that says how much each moment sounds like a beat and like a downbeat, and what the tempo and the
number of beats in the bar are about it.

  python teach.py SET BANDS OUT.bin [--minutes 20] [--seed 5]

SET has the pieces of teach_set.py, BANDS what the example `bands` of letfall-sound writes of them. Needs jax and numpy.
OUT.bin is read by letfall-sound (crates/sound/src/bars/net.rs): numbers of two bytes (IEEE half), in the order of `shapes`.
"""
import argparse, glob, json, os, time, zlib
import jax, jax.numpy as jnp, numpy as np

BANDS, RATE, C, LAYERS, K = 64, 50, 40, 9, 5
TEMPOS, SLOWEST, OCTAVE = 40, 36, 14            # classes of tempo: the slowest in beats a minute, and how many to an octave
GROOVE_FILES = 267                              # of mma 21.09: pieces of teach_set.py take them in turn
METRES = 6                                      # classes of metre: 2 to 7 beats in a bar
TEMPO_SHARE, METRE_SHARE = .15, .08              # how much each weighs beside the beats
DILATIONS = [2 ** i for i in range(LAYERS)]
SPAN = 1500                                     # frames in one example: 30 s


def shapes():
    """Every array of the network, in the order of the file."""
    out = [('in_w', (3, 2 * BANDS, C)), ('in_b', (C,))]
    for i in range(LAYERS):
        out += [(f'w{i}', (K, C, C)), (f'b{i}', (C,)), (f'm{i}', (C, C)), (f'n{i}', (C,))]
    return out + [('out_w', (C, 2 + TEMPOS + METRES)), ('out_b', (2 + TEMPOS + METRES,))]


def inputs(level):
    """level: decibels over the loud level, [T, 64]. The strength, and how it rises over the last two frames."""
    x = jnp.maximum(0, level + 70) / 35
    before = jnp.pad(x, ((0, 0), (2, 0), (0, 0)))[:, :-2]
    wide = jnp.pad(before, ((0, 0), (0, 0), (1, 1)))
    before = jnp.maximum(jnp.maximum(wide[:, :, :-2], wide[:, :, 1:-1]), wide[:, :, 2:])
    return jnp.concatenate([x - 1, 2 * jnp.maximum(0, x - before)], axis=2)


def conv(x, w, dilation):
    pad = w.shape[0] // 2 * dilation
    return jax.lax.conv_general_dilated(x, w, (1,), [(pad, pad)], rhs_dilation=(dilation,), dimension_numbers=('NWC', 'WIO', 'NWC'))


def net(p, level, key=None):
    x = inputs(level)
    x = jax.nn.elu(conv(x, p['in_w'], 1) + p['in_b'])
    for i, d in enumerate(DILATIONS):
        h = jax.nn.elu(conv(x, p[f'w{i}'], d) + p[f'b{i}'])
        if key is not None:
            key, sub = jax.random.split(key)
            h = h * jax.random.bernoulli(sub, .85, (h.shape[0], 1, h.shape[2])) / .85
        x = x + h @ p[f'm{i}'] + p[f'n{i}']
    return x @ p['out_w'] + p['out_b']


def loss(p, level, beat, tempo, metre, weight, key):
    z = net(p, level, key)
    each, whole, weight = losses(z, beat, tempo, metre), weight.sum(), weight[..., 0]
    return sum((share * (x * weight).sum() / whole) for share, x in zip((1, TEMPO_SHARE, METRE_SHARE), each))


def losses(z, beat, tempo, metre):
    """Of beats and downbeats together, of the tempo, of the metre: each per frame."""
    b, t, m = z[..., :2], z[..., 2:2 + TEMPOS], z[..., 2 + TEMPOS:]
    each = jnp.maximum(b, 0) - b * beat + jnp.log1p(jnp.exp(-jnp.abs(b)))
    cross = lambda x, y: -(jax.nn.log_softmax(x) * y).sum(-1)
    return each.sum(-1), cross(t, tempo), cross(m, metre)


def load(folder, bands):
    out = {}
    for p in sorted(glob.glob(folder + '/*.json')):
        j, name = json.load(open(p)), os.path.basename(p)[:-5]
        raw = np.fromfile(os.path.join(bands, name + '.bands'), np.uint8)
        t, b = np.array(j['beats']), np.array(j['beat_in_bar'])
        first = np.flatnonzero(b == 1)
        if len(t) < 8 or len(first) < 2: continue
        count = np.full(len(t), np.median(np.diff(first)))     # beats in the bar of each
        for i, k in zip(first, first[1:]): count[i:k] = k - i
        out[name] = (raw[1:].reshape(-1, BANDS), int(raw[0]), t * RATE, b == 1, count)
    return out


def answers(times, down, count, length):
    """What should be said in every frame: beats and downbeats, tempo, metre, and how much each frame weighs."""
    beat, weight = np.zeros((length, 2), np.float32), np.ones((length, 1), np.float32)
    for col, here in ((0, times), (1, times[down])):
        for near, v in ((-1, .5), (1, .5), (0, 1)):     # the true frame last, so that it wins
            k = np.round(here).astype(int) + near
            k = k[(k >= 0) & (k < length)]
            beat[k, col] = np.maximum(beat[k, col], v)
    gap = np.diff(times)
    at = np.clip(np.searchsorted(times, np.arange(length), 'right') - 1, 0, len(gap) - 1)
    place = np.log2(60 * RATE / gap[at] / SLOWEST) * OCTAVE
    tempo = np.exp(-.5 * ((np.arange(TEMPOS) - place[:, None]) / .8) ** 2) + 1e-9
    metre = np.zeros((length, METRES), np.float32)
    metre[np.arange(length), np.clip(count[at] - 2, 0, METRES - 1).astype(int)] = 1
    usual = np.median(gap)
    weight[:max(0, int(times[0] - usual))] = .2          # before and after the music nobody knows
    weight[max(0, int(times[-1] + usual)):] = 0
    return beat, (tempo / tempo.sum(1, keepdims=True)).astype(np.float32), metre, weight


def example(rng, piece):
    raw, loud, times, down, count = piece
    speed = np.exp(rng.uniform(-.2, .2)) if rng.random() < .7 else 1     # played faster or slower
    n, long = len(raw), int(SPAN * speed) + 2
    a = int(rng.integers(0, max(1, n - long)))
    cut = (raw[a:a + long].astype(np.float32) - loud) / 2
    if len(cut) < long: cut = np.pad(cut, ((0, long - len(cut)), (0, 0)), constant_values=-90)
    place = np.arange(SPAN) * speed; low = place.astype(int); part = (place - low)[:, None].astype(np.float32)
    level = cut[low] * (1 - part) + cut[low + 1] * part
    beat, tempo, metre, weight = answers((times - a) / speed, down, count, SPAN)
    # other rooms, other loudness, other loudspeakers: recordings are no synthesisers
    tilt = np.interp(np.arange(BANDS), np.linspace(0, BANDS - 1, 6), rng.normal(0, 4, 6)) + rng.normal(0, 4)
    level = level + tilt
    if rng.random() < .3:
        level[:, int(rng.integers(28, BANDS)):] -= rng.uniform(5, 40)
    if rng.random() < .2:
        level[:, :int(rng.integers(2, 10))] -= rng.uniform(5, 30)
    if rng.random() < .35:
        noise = rng.uniform(-65, -35)
        level = np.logaddexp(level * .23, (noise + tilt + rng.normal(0, 3, level.shape)) * .23) / .23
    if rng.random() < .3:                        # a room: what was loud dies slowly
        fade = rng.uniform(.6, 3)
        for k in range(1, len(level)):
            level[k] = np.maximum(level[k], level[k - 1] - fade)
    return level.astype(np.float32), beat, tempo, metre, weight


def aside(name):
    """Some of what is like the lessons is not taught either: what choices by hand are made on."""
    if name[0] == 'g': return int(name[1:]) % GROOVE_FILES % 14 == 0      # whole styles
    return name[0] in 'tsd' and zlib.crc32(name.split('.m')[0].rsplit('_', 1)[0].encode()) % (7 if name[0] == 'd' else 14) == 0      # whole pieces


def said_of(run, p, piece):
    """Losses over a whole piece that is held out, and whether the tempo that it finds likeliest is the right one."""
    raw, loud, times, down, count = piece
    raw = np.pad(raw, ((0, -len(raw) % 4500), (0, 0)))       # few lengths: every new one is compiled anew
    z = run(p, jnp.asarray((raw.astype(np.float32) - loud)[None] / 2))
    beat, tempo, metre, weight = answers(times, down, count, len(raw))
    each = [float((np.asarray(x[0]) * weight[:, 0]).sum() / weight.sum()) for x in losses(z, beat, tempo, metre)]
    mean = lambda x: np.asarray(jax.nn.log_softmax(x[0])) [weight[:, 0] > .5].mean(0)
    true = np.log2(60 * RATE / np.median(np.diff(times)) / SLOWEST) * OCTAVE
    return each + [abs(mean(z[..., 2:2 + TEMPOS]).argmax() - true) < 1.2, mean(z[..., 2 + TEMPOS:]).argmax() + 2 == np.median(count)]


def main():
    ap = argparse.ArgumentParser(); ap.add_argument('set'); ap.add_argument('bands'); ap.add_argument('out'); ap.add_argument('--minutes', type=float, default=20); ap.add_argument('--seed', type=int, default=5)
    a = ap.parse_args()
    pieces = load(a.set, a.bands)
    kind = {k: 'v' if k[0] in 'vr' else 'k' if aside(k) else '' for k in pieces}
    held = {k: v for k, v in pieces.items() if kind[k]}
    taught = [v for k, v in pieces.items() if not kind[k]]
    print(len(taught), 'taught on,', len(held), 'held against')
    rng, key = np.random.default_rng(a.seed), jax.random.PRNGKey(a.seed)
    p = {}
    for name, shape in shapes():
        fan = int(np.prod(shape[:-1])) if len(shape) > 1 else 0
        p[name] = jnp.asarray(rng.normal(0, (1.2 if name[0] == 'w' else .4 if name[0] == 'm' else 1) / np.sqrt(fan), shape) if fan else np.zeros(shape), jnp.float32)
    p['out_b'] = p['out_b'].at[:2].set(jnp.array([-2.5, -4.0]))
    grad = jax.jit(jax.value_and_grad(loss))
    run = jax.jit(net)
    m = {k: jnp.zeros_like(v) for k, v in p.items()}; v = dict(m); mean = dict(p)

    @jax.jit
    def step(p, m, v, mean, g, n, rate):
        norm = jnp.sqrt(sum((x * x).sum() for x in g.values())); scale = jnp.minimum(1, 1 / (norm + 1e-9))
        for k in p:
            x = g[k] * scale
            m[k] = .9 * m[k] + .1 * x; v[k] = .999 * v[k] + .001 * x * x
            p[k] = p[k] - rate * (m[k] / (1 - .9 ** n) / (jnp.sqrt(v[k] / (1 - .999 ** n)) + 1e-8) + 1e-3 * p[k])
            mean[k] = .998 * mean[k] + .002 * p[k]
        return p, m, v, mean

    start, n, best, said = time.time(), 0, 9e9, 0
    while (gone := (time.time() - start) / 60 / a.minutes) < 1:
        batch = [example(rng, taught[int(rng.integers(len(taught)))]) for _ in range(16)]
        key, sub = jax.random.split(key)
        l, g = grad(p, *(jnp.asarray(np.stack(x)) for x in zip(*batch)), sub)
        n += 1
        rate = 3e-3 * min(1, n / 100) * (np.cos(np.pi * gone) * .5 + .5 + .003)
        p, m, v, mean = step(p, m, v, mean, g, float(n), rate)
        said = l if n == 1 else .98 * said + .02 * l
        if n % 800 == 0:
            for of in 'vk':
                tot = np.mean([said_of(run, mean, x) for k, x in held.items() if kind[k] == of] , 0)
                if of == 'v': worth = tot[0] + TEMPO_SHARE * tot[1] + METRE_SHARE * tot[2]
                print(f'{n} steps, {gone:.2f} gone, {(time.time() - start) / n:.3f} s each, taught {float(said):.4f}, held {of}: beats {tot[0]:.4f}, tempo {tot[1]:.3f} right {tot[3]:.2f}, metre {tot[2]:.3f} right {tot[4]:.2f}', flush=True)
            save(mean, a.out)
            if worth < best and n >= 800:
                best = worth; save(mean, a.out + '.best')
    save(mean, a.out)


def save(p, out):
    np.concatenate([np.asarray(p[k]).ravel() for k, _ in shapes()]).astype('<f2').tofile(out + '.tmp')
    os.replace(out + '.tmp', out)


if __name__ == '__main__':
    main()
