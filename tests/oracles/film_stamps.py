"""The stamps of a film's pictures and the beginning of its sound, counted from the film's beginning, by another reader of films (PyAV).

Prints one line with the stamps of all pictures, seconds, and one with the stamp of the first sound and how many seconds of it there are."""

import sys

import av

with av.open(sys.argv[1]) as film:
    begins = film.start_time / av.time_base
    print(*[f"{frame.time - begins:.6f}" for frame in film.decode(video=0)])
with av.open(sys.argv[1]) as film:
    first, secs = None, 0.0
    for frame in film.decode(audio=0):
        first = frame.time if first is None else first
        secs += frame.samples / frame.sample_rate
    print(f"{first - begins:.6f} {secs:.6f}")
