"""What `listen` says of a swelled recording, beside two general-purpose pitch trackers: octaves, time left out, error.

    OMP_NUM_THREADS=1 NUMBA_NUM_THREADS=1 python -m tests.load.listen_recording FILE [--split 1080] [--alone]

needs the optional packages named `compare`. FILE is a recording of a duct flute whose first register lies below
`--split` Hz and whose second lies above, as in the recordings published with arXiv:2107.08727 (MIT licence; not kept
here). What sounds is taken from the strongest partial of a 70 ms window every 5 ms, which needs no decision about
octaves; time counts as sounding where that partial stands above -45 dB and moves less than a semitone in 20 ms.
What `listen` says of a whole reading is held against each moment of it, so that a note that glides has a large spread
without being wrong; the trackers follow the glide. The swells of the recording follow, and synthetic tones with and
without a trace of the lower octave. `--alone` leaves out the trackers, which take minutes. yin: de Cheveigne and
Kawahara 2002, J. Acoust. Soc. Am. 111, 1917; pyin: Mauch and Dixon 2014, ICASSP, 659.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import librosa
import numpy as np
from scipy import fft
from scipy.signal import resample_poly

from acoustics.listening.notes import Listener
from acoustics.listening.recording import decoded
from acoustics.listening.strongest import followed
from acoustics.listening.swells import swells
from tests.acoustics.listening import sounds

FLOOR_DB = -45.0
RATE = 48000
FRAME, HOP = 2880, 480


def strongest(sound, rate, low=430.0, high=2600.0, window=0.07, hop=0.005):
    """Time [s], frequency [Hz] and level [dB] of the strongest partial of each frame."""
    n, step = round(window * rate), round(hop * rate)
    shape = np.hanning(n)
    points = fft.next_fast_len(2 * n)
    frames = np.lib.stride_tricks.sliding_window_view(sound, n)[::step]
    first, last = int(low * points / rate), int(high * points / rate)
    found, levels = [], []
    for begin in range(0, len(frames), 1000):
        spectrum = np.abs(fft.rfft(frames[begin : begin + 1000] * shape, points, axis=1))
        peak = spectrum[:, first:last].argmax(axis=1) + first
        rows = np.arange(len(peak))
        left, middle, right = (np.log(spectrum[rows, peak + d] + 1e-12) for d in (-1, 0, 1))
        curve = np.minimum(left - 2 * middle + right, -1e-9)
        found.append((peak + np.clip(0.5 * (left - right) / curve, -0.5, 0.5)) * rate / points)
        levels.append(20 * np.log10(2 * spectrum[rows, peak] / shape.sum() + 1e-12))
    times = (np.arange(len(frames)) * step + n / 2) / rate
    return times, np.concatenate(found), np.concatenate(levels)


def heard(sound, rate):
    listener = Listener(rate)
    listener.feed(sound)
    return listener.finish()


def trackers(sound, rate):
    """Frequency at each frame's middle, NaN where a tracker says that nothing is voiced."""
    options = {"fmin": 160, "fmax": 2600, "sr": rate, "frame_length": round(0.06 * rate), "hop_length": rate // 100}
    yin = librosa.yin(sound, center=False, **options)
    pyin, voiced, _ = librosa.pyin(sound, center=False, **options)
    times = (np.arange(len(yin)) * options["hop_length"] + options["frame_length"] / 2) / rate
    return times, {"yin": yin, "pyin": np.where(voiced, pyin, np.nan)}


def row(name, true, said, split):
    """One line: said (NaN for nothing) against true, frame by frame, both in Hz."""
    cents = 1200 * np.log2(said / true)
    line = f"{name:10}"
    for register in (true < split, true >= split):
        off = cents[register]
        silent = np.isnan(off)
        low, high = np.abs(off + 1200) < 150, np.abs(off - 1200) < 150
        near = off[~silent & (np.abs(off) < 150)]
        rms = np.sqrt(np.mean(near**2)) if len(near) else np.nan
        line += f"{100 * silent.mean():9.1f} {100 * low.mean():8.1f} {100 * high.mean():8.1f} {rms:8.1f}"
    print(line)


def swelled(sound, rate) -> None:
    """What is found of each swell, in Hz and cents."""
    heard = swells(followed([sound], rate))
    print("\nswells: note, before the jump, after it, before the fall (Hz, sd in cents)")
    for one in heard.found:
        pitches = (one.before_jump, one.after_jump, one.before_fall)
        print(
            f"{one.note:5}" + "".join(f"{p.frequency:10.1f} ({p.sd_cents:.1f})" if p else f"{'-':>16}" for p in pitches)
        )
    print(*heard.remarks, sep="\n")


def recording(path: Path, split: float, alone: bool) -> None:
    with decoded(path) as opened:
        rate = opened.rate
        blocks = [block if block.ndim == 1 else block.mean(axis=1) for block in opened.blocks()]
    sound = np.concatenate(blocks).astype(np.float32)
    times, true, level = strongest(sound, rate)
    moves = np.abs(1200 * np.log2(true[4:] / true[:-4]))
    still = np.concatenate([[False, False], moves < 100, [False, False]])
    sounding = (level > FLOOR_DB) & still
    notes = heard(sound, rate)
    said = np.full(len(times), np.nan)
    for note in notes:
        said[(times >= note.start) & (times <= note.end)] = note.frequency
    low = []
    for note in notes:
        inside = sounding & (times >= note.start) & (times <= note.end)
        if inside.any():
            off = 1200 * np.log2(note.frequency / np.exp(np.median(np.log(true[inside]))))
            low.append(off < -600)
    print(
        f"{path.name}: {len(notes)} readings, {sum(low)} of them an octave low, "
        f"{sum(note.overblown for note in notes)} said to be overblown"
    )
    print(
        f"{'% of time':10}"
        + f"{'1: none':>9} {'low':>8} {'high':>8} {'rms c':>8}"
        + f"{'2: none':>9} {'low':>8} {'high':>8} {'rms c':>8}"
    )
    row("listen", true[sounding], said[sounding], split)
    if alone:
        swelled(sound, rate)
        return
    # They need some seconds of processor for each of sound at half the rate, and the pitch is far below.
    at, tracks = trackers(resample_poly(sound, 1, 2).astype(np.float32), rate // 2)
    for name, track in tracks.items():
        nearest = np.clip(np.searchsorted(at, times), 0, len(at) - 1)
        row(name, true[sounding], track[nearest][sounding], split)
    swelled(sound, rate)


def synthetic() -> None:
    print("\nsynthetic, 18 tones each: wrong octave (none): listen, yin, pyin")
    for name, trace in (("no trace", None), ("traces 14 dB down", -14), ("20 dB", -20), ("30 dB", -30)):
        wrong, none = np.zeros(3, int), np.zeros(3, int)
        for true in (800.0, 1046.5, 1318.5, 1480.0, 1760.0, 2093.0):
            for seed in range(3):
                tone = sounds.traced(true, trace, seed) if trace else sounds.tone(true, 1.0, seed=seed)
                pause = np.zeros(RATE // 4)
                sound = sounds.mixed(np.concatenate([pause, tone, pause]), sounds.breath(2, seed=seed + 50), 20)
                notes = heard(sound, RATE)
                at, tracks = trackers(resample_poly(sound, 1, 2).astype(np.float32), RATE // 2)
                inside = (at > 0.35) & (at < 1.1)
                said = [max(notes, key=lambda n: n.end - n.start).frequency if notes else np.nan]
                said += [np.nanmedian(track[inside]) for track in tracks.values()]
                off = np.abs(1200 * np.log2(np.array(said) / true))
                wrong += off > 600
                none += np.isnan(off)
        print(f"{name:20}" + "".join(f"{w:6d} ({n})" for w, n in zip(wrong, none, strict=True)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--split", type=float, default=1080.0)
    parser.add_argument("--alone", action="store_true")
    asked = parser.parse_args()
    recording(asked.file, asked.split, asked.alone)
    if not asked.alone:
        synthetic()


if __name__ == "__main__":
    main()
