#!/usr/bin/env python3
"""Teaches the small network that says how much each moment sounds like a beat and like a downbeat.

  python teach.py SET BANDS OUT.bin [--minutes 20]

SET has the pieces of teach_set.py, BANDS what the example `bands` of letfall-sound writes of them. Needs jax and numpy.
OUT.bin is read by letfall-sound (crates/sound/src/bars/net.rs): numbers of two bytes (IEEE half), in the order of `shapes`.
"""
import argparse, glob, json, os, time
import jax, jax.numpy as jnp, numpy as np

BANDS, RATE, C, LAYERS, K = 64, 50, 32, 9, 5
DILATIONS = [2 ** i for i in range(LAYERS)]
SPAN = 1500                                     # frames in one example: 30 s


def shapes():
    """Every array of the network, in the order of the file."""
    out = [('in_w', (3, 2 * BANDS, C)), ('in_b', (C,))]
    for i in range(LAYERS):
        out += [(f'w{i}', (K, C, C)), (f'b{i}', (C,)), (f'm{i}', (C, C)), (f'n{i}', (C,))]
    return out + [('out_w', (C, 2)), ('out_b', (2,))]


def inputs(level):
    """level: decibels over the loud level, [T, 64]. The strength, and how it rises over the last two frames."""
    x = jnp.maximum(0, level + 70) / 35
    before = jnp.pad(x, ((0, 0), (2, 0), (0, 0)))[:, :-2]
    wide = jnp.pad(before, ((0, 0), (0, 0), (1, 1)))
    before = jnp.maximum(jnp.maximum(wide[:, :, :-2], wide[:, :, 1:-1]), wide[:, :, 2:])
    return jnp.concatenate([x - 1, 2 * jnp.maximum(0, x - before)], axis=2)


def shift(x, by):
    return jnp.pad(x, ((0, 0), (max(-by, 0), max(by, 0)), (0, 0)))[:, max(by, 0):x.shape[1] + max(by, 0)]


def conv(x, w, dilation):
    half = w.shape[0] // 2
    return sum(shift(x, (k - half) * dilation) @ w[k] for k in range(w.shape[0]))


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


def loss(p, level, target, weight, key):
    z = net(p, level, key)
    each = jnp.maximum(z, 0) - z * target + jnp.log1p(jnp.exp(-jnp.abs(z)))
    return (each * weight).sum() / weight.sum()


def load(folder, bands):
    out = {}
    for p in sorted(glob.glob(folder + '/*.json')):
        j, name = json.load(open(p)), os.path.basename(p)[:-5]
        raw = np.fromfile(os.path.join(bands, name + '.bands'), np.uint8)
        level = (raw[1:].reshape(-1, BANDS).astype(np.int16) - raw[0]).astype(np.float32) / 2
        t, b = np.array(j['beats']), np.array(j['beat_in_bar'])
        y = np.zeros((len(level), 2), np.float32)
        for col, times in ((0, t), (1, t[b == 1])):
            for near, v in ((-1, .5), (1, .5), (0, 1)):     # the true frame last, so that it wins
                k = np.round(times * RATE).astype(int) + near
                k = k[(k >= 0) & (k < len(y))]
                y[k, col] = np.maximum(y[k, col], v)
        w = np.ones((len(level), 1), np.float32)
        gap = np.median(np.diff(t))
        w[:max(0, int((t[0] - gap) * RATE))] = .2          # before and after the music nobody knows
        w[int((t[-1] + gap) * RATE):] = .0
        out[name] = (level, y, w)
    return out


def example(rng, piece):
    level, y, w = piece
    n = len(level)
    a = int(rng.integers(0, max(1, n - SPAN)))
    pad = max(0, SPAN - n)
    cut = lambda x, v: np.pad(x[a:a + SPAN], ((0, pad), (0, 0)), constant_values=v)
    level, y, w = cut(level, -90), cut(y, 0), cut(w, 0)
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
    return level, y, w


def main():
    ap = argparse.ArgumentParser(); ap.add_argument('set'); ap.add_argument('bands'); ap.add_argument('out'); ap.add_argument('--minutes', type=float, default=20)
    a = ap.parse_args()
    pieces = load(a.set, a.bands)
    held = {k: v for k, v in pieces.items() if k[0] == 'v'}
    taught = [v for k, v in pieces.items() if k[0] != 'v' for _ in range(1)]
    print(len(taught), 'taught on,', len(held), 'held against')
    rng, key = np.random.default_rng(5), jax.random.PRNGKey(5)
    p = {}
    for name, shape in shapes():
        fan = int(np.prod(shape[:-1])) if len(shape) > 1 else 0
        p[name] = jnp.asarray(rng.normal(0, (1.2 if name[0] == 'w' else .4 if name[0] == 'm' else 1) / np.sqrt(fan), shape) if fan else np.zeros(shape), jnp.float32)
    p['out_b'] = jnp.array([-2.5, -4.0])
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
        if n % 200 == 0:
            tot = [float(loss_of(run(mean, jnp.asarray(x[0][None])), x)) for x in held.values()]
            print(f'{n} steps, {gone:.2f} gone, taught {float(said):.4f}, held {np.mean(tot):.4f}', flush=True)
            save(mean, a.out)
            if np.mean(tot) < best and n >= 800:
                best = np.mean(tot); save(mean, a.out + '.best')
    save(mean, a.out)


def loss_of(z, piece):
    _, y, w = piece
    return ((jnp.maximum(z[0], 0) - z[0] * y + jnp.log1p(jnp.exp(-jnp.abs(z[0])))) * w).sum() / w.sum()


def save(p, out):
    np.concatenate([np.asarray(p[k]).ravel() for k, _ in shapes()]).astype('<f2').tofile(out + '.tmp')
    os.replace(out + '.tmp', out)


if __name__ == '__main__':
    main()
