"""Time of `python -m acoustics listen` on a minute of notes and breath, one core, and of the live listener's blocks.

OMP_NUM_THREADS=1 taskset -c 0 python -m tests.load.listen_speed
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from acoustics.listening.notes import Listener, listen
from tests.acoustics.listening import recordings, sounds

RATE = 48000


def a_minute() -> np.ndarray:
    scale = (440.0, 523.25, 587.33, 659.26, 783.99, 880.0)
    notes = []
    for i in range(24):
        notes += [sounds.tone(scale[i % 6], 2.0, seed=i), np.zeros(RATE // 2)]
    return sounds.mixed(np.concatenate(notes), sounds.breath(60, seed=1), 20)


def processor_of_children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    sound = a_minute()
    with tempfile.TemporaryDirectory() as folder:
        print(f"{'60 s at 48 kHz':20}{'in process, s':>16}{'command line, s':>18}{'processor, s':>16}{'notes':>8}")
        for kind in recordings.KINDS:
            path = recordings.write(Path(folder) / f"minute.{kind}", sound)
            listen(path)
            begun = time.perf_counter()
            notes = listen(path)
            inside = time.perf_counter() - begun
            begun, used = time.perf_counter(), processor_of_children()
            subprocess.run(
                [sys.executable, "-m", "acoustics", "listen", str(path)], check=True, stdout=subprocess.DEVNULL
            )
            used, wall = processor_of_children() - used, time.perf_counter() - begun
            print(f"{kind:20}{inside:16.2f}{wall:18.2f}{used:16.2f}{len(notes):8d}")
    print(f"largest memory of the decoder {resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024:.0f} MB")
    listener, each = Listener(RATE), []
    for begin in range(0, 20 * RATE, 960):
        begun = time.perf_counter()
        listener.feed(sound[begin : begin + 960])
        listener.now()
        each.append(time.perf_counter() - begun)
    middle, worst = np.percentile(each, (50, 99))
    print(
        f"live, 20 ms of sound and the present pitch: median {1e3 * middle:.2f} ms, 99 in 100 in {1e3 * worst:.2f} ms"
    )


if __name__ == "__main__":
    main()
