#!/usr/bin/env python3
"""Writes short sound files in several formats with libsndfile, each with its samples mixed to one channel beside it as
little-endian 32-bit floats (.raw), and two AAC files in M4A with PyAV.  make_audio.py FOLDER"""
import os
import sys

import av
import numpy as np
import soundfile as sf

folder = sys.argv[1]


def write_m4a(path, x, rate):
    with av.open(path, 'w') as out:
        stream = out.add_stream('aac', rate=rate)
        stream.layout, stream.bit_rate = ('stereo' if x.shape[1] == 2 else 'mono'), 160000
        for at in range(0, len(x), 1024):
            block = np.ascontiguousarray(x[at:at + 1024].T.astype(np.float32))
            frame = av.AudioFrame.from_ndarray(block, format='fltp', layout=stream.layout.name)
            frame.sample_rate, frame.pts = rate, at
            for packet in stream.encode(frame):
                out.mux(packet)
        for packet in stream.encode(None):
            out.mux(packet)


for name, rate, channels, kind in (
    ('pcm16.wav', 44100, 2, dict(subtype='PCM_16')),
    ('pcm24.wav', 48000, 1, dict(subtype='PCM_24')),
    ('float.wav', 96000, 2, dict(subtype='FLOAT')),
    ('mono.flac', 44100, 1, {}),
    ('stereo.flac', 48000, 2, {}),
    ('stereo.ogg', 44100, 2, dict(format='OGG', subtype='VORBIS')),
    ('mono.ogg', 22050, 1, dict(format='OGG', subtype='VORBIS')),
    ('stereo.mp3', 44100, 2, dict(format='MP3')),
    ('mono.mp3', 48000, 1, dict(format='MP3')),
    ('stereo.m4a', 44100, 2, {}),
    ('mono.m4a', 48000, 1, {}),
):
    n = 50021
    t = np.arange(n) / rate
    noise = np.random.default_rng(5).standard_normal(n)
    noise = np.convolve(noise, np.hanning(64) / 32, 'same')
    x = 0.3 * np.sin(2 * np.pi * (200 + 300 * t) * t) + 0.1 * noise
    x = np.stack([x if c == 0 else 0.6 * x for c in range(channels)], axis=1)
    path = os.path.join(folder, name)
    write_m4a(path, x, rate) if name.endswith('.m4a') else sf.write(path, x, rate, **kind)
    x.mean(axis=1).astype('<f4').tofile(os.path.splitext(path)[0] + '.raw')
    # Names are told apart by their stem.
    stem = os.path.splitext(path)[0]
    os.rename(path, stem + '-' + name.split('.')[1] + '.' + name.split('.')[1])
    os.rename(stem + '.raw', stem + '-' + name.split('.')[1] + '.raw')
