"""How long `sound` takes for a whole chart at several pressures, and what it says of a usual flute.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m tests.load.sound_speed

Nothing asserts a time. Wall and processor time, the best and the median of thirty runs, each with nothing kept.
"""

from __future__ import annotations

import statistics
import time

from acoustics.blowing.jet import Jet
from acoustics.blowing.poles import poles
from acoustics.blowing.registers import curves
from acoustics.blowing.sound import SoundRequest, sound
from acoustics.blowing.sounding import soundings
from acoustics.model.air import PLAYED_FLUTE
from tests.acoustics.blowing.test_voicing import CHART, FLUTE

PRESSURES = (100.0, 200.0, 300.0, 400.0, 521.0, 700.0, 1000.0, 1500.0, 2500.0, 4000.0)


def timed(what):
    wall, processor = [], []
    for _ in range(30):
        soundings.cache_clear()
        begun, spent = time.perf_counter(), time.process_time()
        what()
        wall.append(1000 * (time.perf_counter() - begun))
        processor.append(1000 * (time.process_time() - spent))
    return f"{min(wall):8.1f}{statistics.median(wall):8.1f}{min(processor):8.1f}{statistics.median(processor):8.1f}"


def main() -> None:
    asked = SoundRequest(FLUTE, PLAYED_FLUTE, CHART, PRESSURES)
    found, jet = poles(FLUTE, PLAYED_FLUTE, CHART), Jet.of(FLUTE, PLAYED_FLUTE)
    print(f"{'ms: wall best, median; processor best, median':50}")
    print(f"{f'{len(CHART)} notes at {len(PRESSURES)} pressures':50}{timed(lambda: sound(asked))}")
    print(f"{'  of it resonances, poles and residues':50}{timed(lambda: poles(FLUTE, PLAYED_FLUTE, CHART))}")
    print(f"{'  of it tones and their stability':50}{timed(lambda: curves(found, jet))}")
    print("\nPa, cents over the resonance and register")
    print(f"{'':8}{'speaks':>8}{'jumps':>8}{'back':>8}" + "".join(f"{p:11.0f}" for p in PRESSURES))
    for note in soundings(FLUTE, PLAYED_FLUTE, CHART):
        line = f"{note.fingering:8}"
        for pressure in (note.speaks_at, note.overblows_at, note.falls_back_at):
            line += f"{pressure:8.0f}" if pressure else f"{'-':>8}"
        for pressure in PRESSURES:
            tone = note.tone(pressure)
            line += (
                f"{note.registers[tone.register].pull(pressure):+8.0f} ({tone.register})"
                if tone.register
                else f"{'-':>11}"
            )
        print(line)


if __name__ == "__main__":
    main()
