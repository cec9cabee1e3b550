"""Listening: the steady blown notes in sound, live or from a recording."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from acoustics.listening.mixing import Stream
from acoustics.listening.pitch import HIGHEST, LEAST_SCORE, LOWEST, Candidates, Floats, Framer, candidates, partials
from acoustics.listening.recording import LIMITS, Limits, decoded
from acoustics.listening.steadiness import SHORTEST, SteadyNote, continued, in_cents, is_blown, level_db, steady_notes
from acoustics.listening.tracks import Track, advance, locked
from acoustics.notes.music import frequency, parse_note

LOW: Final = 160.0
HIGH: Final = 2400.0
"""Fundamentals that can be a flute's, Hz."""
EXPECTED_CENTS: Final = 250.0
"""How far from an expected note one is looked for: less than to the next of a pentatonic scale."""

_LEAP_CENTS = 45.0
_PATIENCE = 3
_LOYALTY = 15.0
_LONGEST = 60.0
_PRESENT = 6
_FRESH = 4
_RECENT = 30
_HEARD = 0.4
_SWELLING = 0.1
_TOO_WILD_CENTS = 40.0


@dataclass(frozen=True, slots=True)
class Present:
    """What sounds now.

    `frequency`: Hz, over the last 110 ms, so about 55 ms old (90 ms of a note that has only begun); `sd_cents`: spread
    of the pitch over `seconds`, the last 0.3 s or less if it began later; `level_db`: as in `SteadyNote`, over the same
    time; `steady`: whether that is long enough and a blown note's; `overblown`: as in `SteadyNote`.
    """

    frequency: float
    sd_cents: float
    level_db: float
    seconds: float
    steady: bool
    overblown: bool = False


class Listener:
    """One listening session: feed it sound, ask it for the present pitch or for the notes so far.

    `rate`: samples a second; `low`, `high`: the fundamentals to listen for, Hz. Whatever the blocks, the notes are the
    same. It remembers the pitch being followed (at most 60 s, 200 bytes for each 10 ms) and the notes.
    """

    def __init__(self, rate: int, low: float = LOW, high: float = HIGH, narrow: bool = False) -> None:
        self._framer = Framer(rate)
        self._rate = rate
        self._range = (low, high)
        self._search = (0.97 * low, 1.03 * high) if narrow else (LOWEST, HIGHEST)
        self._stream = Stream(self._framer)
        self._frames = 0
        self._parts: list[Track] = []
        self._notes: list[SteadyNote] = []
        self._pitch = 0.0
        self._missed = 0
        self._now: tuple[int, Present | None] | None = None

    @staticmethod
    def expecting(rate: int, note: str, a4: float = 440.0) -> Listener:
        """A listener for a single note, such as "A4". Raises InvalidInput for anything that is not a note."""
        return Listener(rate, *expected_range(note, a4), narrow=True)

    def feed(self, samples: NDArray[np.floating[Any]]) -> None:
        """Hear `samples`, (m,) or (m, channels), full scale 1. Raises InvalidInput for anything that is not sound."""
        for part in self._stream.take(samples):
            self._hear(part)

    def finish(self) -> tuple[SteadyNote, ...]:
        """All notes, the last one ended: the sound is over."""
        self._close()
        self._pitch = 0.0
        return self.notes()

    def notes(self) -> tuple[SteadyNote, ...]:
        """The notes that have ended so far, in order."""
        return tuple(self._notes)

    def now(self) -> Present | None:
        """The present pitch, or None where nothing sounds that could be a flute within the range."""
        if self._pitch == 0.0 or self._missed or not self._parts:
            return None
        if self._now is None or self._now[0] != self._frames:
            self._now = self._frames, self._present()
        return self._now[1]

    def _present(self) -> Present | None:
        recent = self._recent()
        if len(recent) < _FRESH:
            return None
        lock = locked(recent)
        rise = advance(recent, lock.orders)
        latest = advance(recent.part(max(0, len(recent) - _PRESENT), len(recent)), lock.orders)
        pitch = latest.frequency() * lock.multiple
        spread = float(np.std(in_cents(rise.pitch)))
        drowned = recent.power.sum() < _HEARD * recent.loudness.sum()
        if not self._range[0] <= pitch <= self._range[1] or spread > _TOO_WILD_CENTS or drowned:
            return None
        return Present(
            frequency=pitch,
            sd_cents=spread,
            level_db=level_db(recent),
            seconds=recent.seconds,
            steady=bool(recent.seconds >= SHORTEST and is_blown(recent, lock, rise.pitch)),
            overblown=lock.overblown,
        )

    def _recent(self) -> Track:
        parts: list[Track] = []
        while len(parts) < len(self._parts) and sum(map(len, parts)) < _RECENT:
            parts.insert(0, self._parts[-1 - len(parts)])
        track = Track.joined(parts)
        track = track.part(max(0, len(track) - _RECENT), len(track))
        power = track.power.sum(axis=1)
        faint = np.flatnonzero(power < _SWELLING * power.max())
        return track.part(int(faint[-1]) + 1, len(track)) if len(faint) else track

    def _hear(self, sound: NDArray[np.float32]) -> None:
        spectra = self._framer.transform(sound)
        followed, starts = self._follow(candidates(spectra, *self._search))
        read = partials(spectra, followed)
        n = len(followed)
        times = ((self._frames + np.arange(n)) * self._framer.hop + 0.5 * self._framer.length) / self._rate
        step = self._framer.hop / self._rate
        heard = Track(times, followed, read.phasor, read.above_floor, spectra.loudness, step)
        self._frames += n
        begin = 0
        for end in starts:
            self._take(heard.part(begin, end))
            self._close()
            begin = end
        self._take(heard.part(begin, n))
        if sum(map(len, self._parts)) * step > _LONGEST:
            self._close()

    def _take(self, part: Track) -> None:
        """Keep the frames with a pitch: silence only ever comes before the first."""
        sounding = np.flatnonzero(part.coarse > 0.0)
        if len(sounding):
            self._parts.append(part.part(int(sounding[0]), len(part)))

    def _close(self) -> None:
        if self._parts:
            for note in steady_notes(Track.joined(self._parts), *self._range):
                longer = continued(self._notes[-1], note) if self._notes else None
                if longer is not None:
                    self._notes[-1] = longer
                else:
                    self._notes.append(note)
            self._parts = []

    def _follow(self, found: Candidates) -> tuple[Floats, list[int]]:
        """The fundamental through each frame, Hz, 0 for none, and the frames that start another track."""
        followed = np.zeros(len(found.best))
        starts = []
        for i, best in enumerate(found.best.tolist()):
            offered = float(found.frequency[i, best]) if best >= 0 else 0.0
            if self._pitch == 0.0:
                going_on = offered == 0.0
            else:
                near = self._nearby(found, i)
                going_on = near > 0.0 or self._missed < _PATIENCE
                self._missed = 0 if near > 0.0 else self._missed + 1
                offered = (near or self._pitch) if going_on else offered
            if not going_on:
                starts.append(i)
                self._missed = 0
            followed[i] = self._pitch = offered
        return followed, starts

    def _nearby(self, found: Candidates, frame: int) -> float:
        """The candidate that continues the pitch followed, Hz: the best one, or one not much worse; 0 for none."""
        span = 2.0 ** (_LEAP_CENTS / 1200.0)
        best = found.best[frame]
        offered = float(found.frequency[frame, best])
        if best >= 0 and self._pitch <= offered * span and offered <= self._pitch * span:
            return offered
        row = found.frequency[frame]
        near = (row * span >= self._pitch) & (row <= self._pitch * span)
        score = np.where(near, found.score[frame], -np.inf)
        other = int(score.argmax())
        least = max(0.0, (float(found.score[frame, best]) if best >= 0 else LEAST_SCORE) - _LOYALTY)
        return float(row[other]) if score[other] > least else 0.0


def expected_range(note: str, a4: float = 440.0) -> tuple[float, float]:
    """Lowest and highest fundamental, Hz, that may be the expected note."""
    middle = frequency(parse_note(note, "expect"), a4)
    span = 2.0 ** (EXPECTED_CENTS / 1200.0)
    return middle / span, middle * span


def listen(
    source: Path | BinaryIO, expect: str | None = None, a4: float = 440.0, limits: Limits = LIMITS
) -> tuple[SteadyNote, ...]:
    """The steady blown notes of a recording: WAV, FLAC, OGG, MP3 or M4A, mono or stereo.

    `source`: a path, or an open file that can seek. `expect`: listen for this note alone. Raises InvalidInput for a
    file that is no such recording or breaks a limit.
    """
    if expect is not None:
        expected_range(expect, a4)
    with decoded(source, limits) as sound:
        rate = sound.rate
        listener = Listener(rate) if expect is None else Listener.expecting(rate, expect, a4)
        for block in sound.blocks():
            listener.feed(block)
    return listener.finish()
