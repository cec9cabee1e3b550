"""Pitch and time of `listen` beside librosa's yin and pyin on the same synthesised notes, and the Cramer-Rao bound.

    OMP_NUM_THREADS=1 NUMBA_NUM_THREADS=1 python -m tests.load.listen_compare

needs the optional packages named `compare`. yin: de Cheveigne & Kawahara 2002, J. Acoust. Soc. Am. 111, 1917; pyin:
Mauch & Dixon 2014, ICASSP, 659. Both get frames as long and as often as ours, and every note's pitch is their median
over the frames that lie within it (for pyin the voiced ones), which is kind to them: they need not find the note. The
bound is that of a harmonic tone in white noise (Nehorai & Porat 1986, IEEE Trans. Acoust. Speech Signal Process. 34,
1124), var(omega) >= 24 s^2 / (N^3 sum h^2 A_h^2), over the second that the tone lasts; beside coloured noise it is only
a mark.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import librosa
import numpy as np

from acoustics.listening.notes import Listener
from acoustics.notes.music import frequency, parse_note
from tests.acoustics.listening import sounds

RATE, SECONDS, PAUSE = 48000, 1.0, 0.25
NOTES = ("C4", "A4", "E5", "C6", "C7")
FRAME, HOP = 2880, 480
TRIALS = 6

Cases = dict[str, tuple[tuple[float, ...], float, str, float]]
CASES: Cases = {
    "flute, white, 20 dB": (sounds.FLUTE, 20, "white", 0),
    "flute, white, 10 dB": (sounds.FLUTE, 10, "white", 0),
    "flute, breath, 20 dB": (sounds.FLUTE, 20, "breath", 0),
    "flute, breath, 10 dB": (sounds.FLUTE, 10, "breath", 0),
    "weak fundamental, 15 dB": (sounds.WEAK_FUNDAMENTAL, 15, "breath", 0),
    "strong second, 15 dB": (sounds.STRONG_SECOND, 15, "breath", 0),
    "pure, breath, 15 dB": (sounds.PURE, 15, "breath", 0),
    "glide of 80 at onset, 20 dB": (sounds.FLUTE, 20, "breath", -80),
}


def ours(sound):
    listener = Listener(RATE)
    listener.feed(sound)
    notes = listener.finish()
    return max(notes, key=lambda note: note.end - note.start).frequency if notes else np.nan


def middle(track, voiced=None):
    """Median of the frames that lie wholly within the note."""
    times = (np.arange(len(track)) * HOP + FRAME / 2) / RATE
    inside = (times > PAUSE + FRAME / RATE) & (times < PAUSE + SECONDS - FRAME / RATE)
    if voiced is not None:
        inside &= voiced
    return float(np.median(track[inside])) if inside.any() else np.nan


def yin(sound):
    return middle(librosa.yin(sound, fmin=160, fmax=2600, sr=RATE, frame_length=FRAME, hop_length=HOP, center=False))


def pyin(sound):
    track, voiced, _ = librosa.pyin(
        sound, fmin=160, fmax=2600, sr=RATE, frame_length=FRAME, hop_length=HOP, center=False
    )
    return middle(track, voiced)


METHODS: dict[str, Callable] = {"ours": ours, "yin": yin, "pyin": pyin}


def made(true, partials, snr, noise, glide, seed):
    """One note between two pauses, noise throughout."""
    pause = np.zeros(round(PAUSE * RATE))
    tone = np.concatenate([pause, sounds.tone(true, SECONDS, RATE, partials, glide_cents=glide, seed=seed), pause])
    length = len(tone) / RATE
    rushing = (
        sounds.white(length, seed=seed)
        if noise == "white"
        else sounds.breath(length, fundamental=true * 1.005, seed=seed)
    )
    return sounds.mixed(tone, rushing, snr)


def bound_in_cents(true, partials, snr):
    amplitudes = np.array(partials) / np.sqrt(np.sum(np.square(partials)))
    orders = np.arange(1, len(partials) + 1)
    n, variance = SECONDS * RATE, 0.5 * 10 ** (-snr / 10)
    omega = np.sqrt(24 * variance / (n**3 * np.sum((orders * amplitudes) ** 2)))
    return 1200 / np.log(2) * omega / (2 * np.pi * true / RATE)


def main() -> None:
    for method in METHODS.values():
        method(made(440.0, sounds.FLUTE, 20, "white", 0, 0))  # librosa compiles on its first call
    print(
        f"{'rms error, cents (notes missed, an octave off)':46}"
        + "".join(f"{m:>16}" for m in METHODS)
        + f"{'bound':>10}"
    )
    spent = dict.fromkeys(METHODS, 0.0)
    sounded = 0.0
    for name, (partials, snr, noise, glide) in CASES.items():
        errors: dict[str, list[float]] = {method: [] for method in METHODS}
        bounds = []
        for note in NOTES:
            true = frequency(parse_note(note))
            bounds.append(bound_in_cents(true, partials, snr))
            for trial in range(TRIALS):
                sound = made(true, partials, snr, noise, glide, trial)
                sounded += len(sound) / RATE
                for label, method in METHODS.items():
                    begun = time.process_time()
                    found = method(sound)
                    spent[label] += time.process_time() - begun
                    errors[label].append(1200 * np.log2(found / true))
        row = f"{name:46}"
        for label in METHODS:
            all_of = np.array(errors[label])
            missed, leaps = np.isnan(all_of), np.abs(all_of) > 600
            kept = all_of[~missed & ~leaps]
            rms = np.sqrt(np.mean(kept**2)) if len(kept) else np.nan
            row += f"{rms:8.3f} ({missed.sum():2d},{leaps.sum():2d})"
        print(row + f"{np.sqrt(np.mean(np.square(bounds))):10.4f}")
    print(
        f"{'seconds of processor for a minute of sound':46}"
        + "".join(f"{60 * t / sounded:16.2f}" for t in spent.values())
    )


if __name__ == "__main__":
    main()
