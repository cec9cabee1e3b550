"""The steady blown notes in a followed pitch, and their frequencies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.ndimage import maximum_filter1d, median_filter, uniform_filter1d

from acoustics.listening.pitch import Floats
from acoustics.listening.tracks import Flags, Locked, Track, advance, locked

SHORTEST: Final = 0.25
"""Shortest steady part that counts as a note, s."""
FAINTEST_DB: Final = -80.0
"""Anything fainter is silence, dB against a sine at full scale."""

_VIBRATO = 0.20  # s, about one turn of a vibrato
_QUICK = 0.06  # s
_DRIFT = 15.0  # cents
_TUBE = 8.0  # cents
_ABOUT = 12.0  # cents
_FADED_DB = 14.0
_AROUND = 0.8  # s
_GAP = 0.12  # s
_EDGE = 0.10  # s
_CONTINUED = 0.09  # s

_EXPLAINED = 0.40
_SHORTEST_ALONE = 0.30  # s
_EXPLAINED_ALONE = 0.55
_HIGH = 0.15
_FLUTTER = 0.32
_JITTER = 32.0  # cents
_FLUTTER_ALONE = 0.25
_JITTER_ALONE = 28.0  # cents
_FITFUL_ALONE = 0.55  # cents
_FITFUL_SPAN = 8  # frames

Run = tuple[int, int]
"""Frames [first, last)."""


@dataclass(frozen=True, slots=True)
class SteadyNote:
    """The steady part of one blown note.

    `start`, `end`: s from the beginning of the recording. `frequency`: Hz. `sd_cents`: spread of the pitch within that
    part, cents, from 10 ms to 10 ms: vibrato, wandering breath and noise alike. `level_db`: level of its partials
    against a sine at full scale (0 dB FS as in IEC 61606). `overblown`: `frequency` is what sounds, and a trace of the
    note below (14 to 30 dB down on real flutes) tells that it is that note's second or third register.
    """

    start: float
    end: float
    frequency: float
    sd_cents: float
    level_db: float
    overblown: bool = False


def steady_notes(track: Track, low: float, high: float) -> list[SteadyNote]:
    """The steady blown notes within one track, fundamental between `low` and `high` Hz."""
    if track.seconds < SHORTEST:
        return []
    found = (_note(track.part(first, last)) for first, last in _steady_runs(track))
    return [note for note in found if note is not None and low <= note.frequency <= high]


def continued(before: SteadyNote, after: SteadyNote) -> SteadyNote | None:
    """Both as one where `after` only goes on with `before`: the octave followed had changed, not the sound."""
    apart = 1200.0 * math.log2(after.frequency / before.frequency)
    if after.start - before.end > _CONTINUED or abs(apart) > _TUBE:
        return None
    share = (after.end - after.start) / (after.end - after.start + before.end - before.start)
    variance = (1.0 - share) * before.sd_cents**2 + share * after.sd_cents**2 + share * (1.0 - share) * apart**2
    power = (1.0 - share) * 10.0 ** (before.level_db / 10.0) + share * 10.0 ** (after.level_db / 10.0)
    return SteadyNote(
        start=before.start,
        end=after.end,
        frequency=before.frequency * 2.0 ** (share * apart / 1200.0),
        sd_cents=float(np.sqrt(variance)),
        level_db=float(10.0 * np.log10(power)),
        overblown=before.overblown or after.overblown,
    )


def _note(track: Track) -> SteadyNote | None:
    first, last = _settled(track)
    if (last - first) * track.step < SHORTEST:
        return None
    track = track.part(first, last)
    lock = locked(track)
    rise = advance(track, lock.orders)
    if not is_blown(track, lock, rise.pitch):
        return None
    return SteadyNote(
        start=float(track.times[0]),
        end=float(track.times[-1]),
        frequency=rise.frequency() * lock.multiple,
        sd_cents=float(np.std(in_cents(rise.pitch))),
        level_db=level_db(track),
        overblown=lock.overblown,
    )


def in_cents(frequency: Floats) -> Floats:
    """Cents above 1 Hz."""
    cents: Floats = 1200.0 * np.log2(frequency)
    return cents


def level_db(track: Track) -> float:
    """Mean level of the partials, dB against a sine at full scale."""
    return float(10.0 * np.log10(2.0 * track.power.sum(axis=1).mean() + 1e-30))


def _steady_runs(track: Track) -> list[Run]:
    """Where neither pitch nor level is on its way elsewhere.

    The pitch may move 15 cents in 60 ms or, averaged over a turn of vibrato, in 0.2 s; the level may lie 14 dB below
    the loudest within 0.4 s.
    """
    pitch = median_filter(in_cents(advance(track).pitch), size=5, mode="nearest")
    quick, calm = _mean(pitch, _QUICK, track.step), _mean(pitch, _VIBRATO, track.step)
    swing = 1.4826 * _mad(quick - calm)
    still = _drift(quick, _QUICK, track.step) < _DRIFT
    still |= _drift(calm, _VIBRATO, track.step) < max(_DRIFT, swing)
    power = _mean(track.power.sum(axis=1)[1:], 0.03, track.step)
    loudest = maximum_filter1d(power, round(_AROUND / track.step), mode="nearest")
    loud = power > loudest * 10.0 ** (-_FADED_DB / 10.0)
    gap = round(_GAP / track.step)
    runs = []
    for first, last in _bridged(_runs(still & loud), calm, loud, gap):
        inside = calm[first:last]
        near = np.abs(inside - np.median(inside)) < max(_ABOUT, swing, 3.0 * 1.4826 * _mad(inside))
        runs += [(first + a, first + b + 1) for a, b in _bridged(_runs(near), inside, loud[first:last], gap)]
    return [(first, last) for first, last in runs if (last - first) * track.step >= SHORTEST]


def _mean(values: Floats, seconds: float, step: float) -> Floats:
    mean: Floats = uniform_filter1d(values, max(1, round(seconds / step)), mode="nearest")
    return mean


def _mad(values: Floats) -> float:
    """Median absolute deviation."""
    return float(np.median(np.abs(values - np.median(values))))


def _drift(values: Floats, seconds: float, step: float) -> Floats:
    """How far the values move in `seconds` about each frame."""
    half = max(1, round(0.5 * seconds / step))
    padded = np.pad(values, half, mode="edge")
    drift: Floats = np.abs(padded[2 * half :] - padded[: -2 * half])
    return drift


def _runs(flags: Flags) -> list[Run]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _bridged(runs: list[Run], calm: Floats, loud: Flags, gap: int) -> list[Run]:
    """Join runs that a short disturbance parts, where the note goes on at the same pitch."""
    joined: list[Run] = []
    for first, last in runs:
        if joined:
            before, end = joined[-1]
            was, now = calm[max(before, end - gap) : end], calm[first : min(last, first + gap)]
            same = abs(np.median(was) - np.median(now)) < _TUBE
            if first - end <= gap and same and loud[end:first].all():
                joined[-1] = (before, last)
                continue
        joined.append((first, last))
    return joined


def _settled(track: Track) -> Run:
    """The run without what is left at its ends of the onset and the release: it begins and ends near the middle pitch,
    with nothing far from it close to either end."""
    pitch = uniform_filter1d(in_cents(advance(track).pitch), 3, mode="nearest")
    off = np.abs(pitch - np.median(pitch)) / max(1.0, 1.4826 * _mad(pitch))
    near = np.flatnonzero(off <= 2.0)
    edge = min(round(_EDGE / track.step), len(off) // 3)
    early = np.flatnonzero(off[:edge] > 3.0)
    late = np.flatnonzero(off[-edge:] > 3.0)
    first = max(int(near[0]), int(early[-1]) + 1 if len(early) else 0)
    last = min(int(near[-1]) + 1, len(off) - edge + int(late[0]) if len(late) else len(off))
    return first, last + 1


def is_blown(track: Track, lock: Locked, pitch: Floats) -> bool:
    """Whether a steady run is a tone and not shaped noise, a voice or one line of a hum.

    Its partials hold most of the sound; little of them lies above the fifth (a voice's formants); level and pitch
    neither flutter nor jump. Noise through a resonance has an envelope as Rayleigh's (flutter 0.52) and jumps in pitch
    where it fades (Rice 1944, Bell Syst. Tech. J. 23, 282), so a partial with no other in step is held to more. The
    thresholds are our own: found on synthesised noise through resonances of Q 5 to 80, and on tones 10 dB above it.
    """
    power = track.power
    explained = power.sum() / max(float(track.loudness.sum()), 1e-30)
    if explained < _EXPLAINED or level_db(track) < FAINTEST_DB:
        return False
    if power[:, 5:].sum() > _HIGH * power.sum():
        return False
    amplitude = np.sqrt(power[:, advance(track).strongest]) + 1e-12
    flutter = np.std(amplitude / _mean(amplitude, 0.5, track.step))
    cents = in_cents(pitch)
    jitter = np.std(cents - _mean(cents, _VIBRATO, track.step))
    if lock.orders.sum() > 1:
        return bool(flutter < _FLUTTER and jitter < _JITTER)
    if track.seconds < _SHORTEST_ALONE:
        return False
    fitful = _fitful(np.log(amplitude)) * _fitful(cents)
    alone = (flutter / _FLUTTER_ALONE) ** 2 + (jitter / _JITTER_ALONE) ** 2
    return bool(explained > _EXPLAINED_ALONE and alone < 1.0 and fitful < _FITFUL_ALONE)


def _fitful(values: Floats) -> float:
    """Spread of changes that are faster than vibrato."""
    return float(np.std(values - uniform_filter1d(values, _FITFUL_SPAN, mode="nearest")))
