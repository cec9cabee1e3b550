"""Swells: a note blown from nothing until it jumps to its upper register, and back.

The pitch just before the jump is a reading that depends little on the player's mood: it repeated to 2.7 cents within a
sitting where free readings scatter by 10 (one duct flute, recordings published with arXiv:2107.08727).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from acoustics.listening.gauge import Gauge
from acoustics.listening.pitch import Floats
from acoustics.listening.strongest import Sounding
from acoustics.notes.music import nearest_note

JUMP_CENTS: Final = ((880.0, 1250.0), (1750.0, 2000.0))
"""A jump to the second or third register: an octave or twelfth, less what wide and short bores make of it."""

_GLIDE = 60.0  # cents from frame to frame
_GAP = 0.30  # s
_SHORTEST = 0.12  # s
_NEAR = 0.25  # s
_BLURRED = 0.04  # s: a frame's window reaches over the jump
_SAME_NOTE = 150.0  # cents
_INDEPENDENT = 0.06  # s
_LEAST_DOUBLINGS = 0.6
_BREATH_ALONE = 25.0  # dB: a blown note comes within that of the loudest
_MUCH_SOFTER = 18.0  # dB: breath before the note, and no note
_CLEAR = 0.15  # of the largest pressure: a gauge's noise bends what lies below
_LAST = 0.6  # s
_LEAVES = 6.0  # cents
_WILD = 25.0  # cents: no pitch of a note that is held


@dataclass(frozen=True, slots=True)
class Pitch:
    """A frequency [Hz] and its standard deviation [cents]."""

    frequency: float
    sd_cents: float


@dataclass(frozen=True, slots=True)
class Swell:
    """One note blown over its jump: the pitch just before and after it, and just before it falls back (None where it
    does not); `cents_per_doubling` of the pressure in the lower register, None without a gauge or too short a rise."""

    note: str
    before_jump: Pitch
    after_jump: Pitch
    before_fall: Pitch | None
    cents_per_doubling: float | None


@dataclass(frozen=True, slots=True)
class Swells:
    """What was found, and `remarks` on what was not: sentences."""

    found: tuple[Swell, ...]
    remarks: tuple[str, ...]


def swells(heard: Sounding, gauge: Gauge | None = None) -> Swells:
    """The swells in what was heard, in order."""
    pieces = _pieces(heard)
    found: list[Swell] = []
    remarks: list[str] = []
    i = 0
    while i + 1 < len(pieces):
        low, high = pieces[i], pieces[i + 1]
        if not _next_to(heard, low, high) or not _is_jump(_step(heard, low, high)):
            i += 1
            continue
        at = heard.times[high[0]]
        if i and _next_to(heard, pieces[i - 1], low) and _leaps(heard, pieces[i - 1], low):
            remarks.append(
                f"At {at:.1f} s the register jumps in the middle of a scale: that is no swell of one note. Blow each "
                "note by itself, from nothing until it jumps, and come back."
            )
            i += 2
            continue
        back = pieces[i + 2] if i + 2 < len(pieces) and _next_to(heard, high, pieces[i + 2]) else None
        fell = back is not None and _is_jump(-_step(heard, high, back))
        if back is not None and fell and abs(_step(heard, low, back)) > _SAME_NOTE:
            remarks.append(f"After the jump at {at:.1f} s it came back to another note: what lies before is kept.")
            fell = False
        elif not fell:
            remarks.append(f"After the jump at {at:.1f} s it did not fall back to the note: what lies before is kept.")
        before, after = _pitch(heard, _rising(heard, low), at_end=True), _pitch(heard, high, at_end=False)
        if max(before.sd_cents, after.sd_cents) > _WILD:
            i += 1
            continue
        parts = [low, back] if fell and back is not None else [low]
        found.append(
            Swell(
                nearest_note(before.frequency)[0],
                before,
                after,
                _pitch(heard, high, at_end=True) if fell else None,
                None if gauge is None else _slope(heard, parts, gauge),
            )
        )
        if gauge is not None and found[-1].cents_per_doubling is None:
            remarks.append(f"The gauge moved too little before the jump at {at:.1f} s to tell what a breath is worth.")
        i += 2
    if not found and not remarks:
        remarks.append(
            "No note jumps to its upper register here. Blow from nothing, harder and harder, until it leaps, and come "
            "back; the steady notes are given as ever."
            if pieces
            else "No note sounds in this recording."
        )
    return Swells(tuple(found), tuple(remarks))


Piece = tuple[int, int]
"""Frames [first, last) in which one pitch glides on without a leap."""


def _pieces(heard: Sounding) -> list[Piece]:
    cents = 1200.0 * np.log2(np.maximum(heard.frequency, 1.0))
    found: list[Piece] = []
    begin: int | None = None
    for i, sounds in enumerate(heard.sounds.tolist()):
        leaps = begin is not None and sounds and abs(cents[i] - cents[i - 1]) > _GLIDE
        if begin is not None and (not sounds or leaps):
            found.append((begin, i))
            begin = None
        if sounds and begin is None:
            begin = i
    if begin is not None:
        found.append((begin, len(heard.sounds)))
    loudest = float(heard.level.max()) if len(heard.level) else 0.0
    long = [
        (first, last)
        for first, last in found
        if (last - first) * heard.step >= _SHORTEST and heard.level[first:last].max() > loudest - _BREATH_ALONE
    ]
    joined: list[Piece] = []
    for piece in long:
        if joined and _next_to(heard, joined[-1], piece) and abs(_step(heard, joined[-1], piece)) < _GLIDE:
            joined[-1] = (joined[-1][0], piece[1])
        else:
            joined.append(piece)
    return joined


def _next_to(heard: Sounding, before: Piece, after: Piece) -> bool:
    return bool((after[0] - before[1]) * heard.step <= _GAP)


def _step(heard: Sounding, before: Piece, after: Piece) -> float:
    """Cents from the end of a piece to the beginning of the next."""
    return float(1200.0 * np.log2(_median(heard, after, False) / _median(heard, before, True)))


def _median(heard: Sounding, piece: Piece, at_end: bool) -> float:
    n = max(1, min(round(0.1 / heard.step), piece[1] - piece[0]))
    part = heard.frequency[piece[1] - n : piece[1]] if at_end else heard.frequency[piece[0] : piece[0] + n]
    return float(np.median(part))


def _is_jump(cents: float) -> bool:
    return any(low < cents < high for low, high in JUMP_CENTS)


def _leaps(heard: Sounding, before: Piece, after: Piece) -> bool:
    """Whether a blown note went over to another before, other than by a register."""
    step = _step(heard, before, after)
    loud = float(np.median(heard.level[slice(*before)])) > float(np.max(heard.level[slice(*after)])) - _MUCH_SOFTER
    return loud and abs(step) > _GLIDE and not _is_jump(abs(step))


def _rising(heard: Sounding, piece: Piece) -> Piece:
    """A piece up to where it leaves its highest pitch: both registers may sound for a while before the jump."""
    near = max(piece[0], piece[1] - round(_LAST / heard.step))
    cents = 1200.0 * np.log2(heard.frequency[near : piece[1]])
    high = np.flatnonzero(cents >= np.quantile(cents, 0.9) - _LEAVES)
    return piece[0], max(near + int(high[-1]) + 1, min(piece[1], piece[0] + 5))


def _pitch(heard: Sounding, piece: Piece, at_end: bool) -> Pitch:
    """The pitch at one end of a piece, by a line through what lies next to it without the frames that a jump blurs."""
    blurred, near = round(_BLURRED / heard.step), round(_NEAR / heard.step)
    first, last = piece
    if last - first > 3 * blurred:
        first, last = first + blurred, last - blurred
    part = slice(max(first, last - near), last) if at_end else slice(first, min(last, first + near))
    times, cents = heard.times[part], 1200.0 * np.log2(heard.frequency[part])
    end = times[-1] if at_end else times[0]
    if len(times) < 5:
        return Pitch(float(2.0 ** (np.median(cents) / 1200.0)), max(1.0, float(np.std(cents))))
    kept = np.ones(len(cents), dtype=bool)
    for _ in range(3):
        # A frame in which the other register was strongest for a moment is no part of the line.
        slope, value = np.polyfit(times[kept] - end, cents[kept], 1)
        left = cents - (value + slope * (times - end))
        kept = np.abs(left) <= max(3.0, 4.0 * 1.4826 * float(np.median(np.abs(left[kept]))))
        if kept.sum() < 5:
            kept[:] = True
    left = left[kept]
    independent = max(2.0, (times[-1] - times[0]) / _INDEPENDENT)
    # The end of a fitted line is known half as well as its middle, and the frames overlap.
    sd = 2.0 * float(np.std(left)) / math.sqrt(independent)
    return Pitch(float(2.0 ** (value / 1200.0)), max(sd, 0.3))


def _slope(heard: Sounding, pieces: list[Piece], gauge: Gauge) -> float | None:
    """Cents for each doubling of the pressure, rising and falling together."""
    x: list[NDArray[np.float64]] = []
    y: list[Floats] = []
    for first, last in pieces:
        pressure = gauge.at(heard.times[first:last])
        clear = pressure > _CLEAR * gauge.most
        x.append(np.log2(pressure[clear]))
        y.append(1200.0 * np.log2(heard.frequency[first:last][clear]))
    doublings, cents = np.concatenate(x), np.concatenate(y)
    if len(doublings) < 30 or np.ptp(doublings) < _LEAST_DOUBLINGS:
        return None
    return float(np.polyfit(doublings, cents, 1)[0])
