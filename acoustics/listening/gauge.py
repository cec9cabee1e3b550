"""A pressure gauge's log beside a recording: seconds and pascals."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from acoustics.errors import InvalidInput
from acoustics.listening.pitch import Floats

LEAST, MOST = 15.0, 10_000.0
"""The largest pressure of a swell lies between these [Pa]: softer than any flute speaks, harder than a person blows."""
MOST_ROWS: Final = 200_000
_IN_PASCALS = "must be in Pa (1 mm of water is 9.8 Pa, 1 mbar is 100 Pa, 1 kPa is 1000 Pa, 1 psi is 6895 Pa)"


@dataclass(frozen=True, slots=True)
class Gauge:
    """`times` [s from the recording's beginning, rising] and `pressures` [Pa], both (n,)."""

    times: Floats
    pressures: Floats

    @staticmethod
    def of(times: Floats, pressures: Floats, seconds: float) -> Gauge:
        """Check a log against the recording's length. Raises InvalidInput where unit, order or length cannot be."""
        if len(times) < 2:
            raise InvalidInput("pressures", len(times), "must have two rows or more of seconds and pascals")
        if not (np.isfinite(times).all() and np.isfinite(pressures).all()):
            raise InvalidInput("pressures", "NaN", "must be numbers")
        if (np.diff(times) < 0.0).any():
            raise InvalidInput("pressures", "times", "must rise from row to row")
        if times[-1] > 20.0 * seconds + 5.0:
            raise InvalidInput("pressures", float(times[-1]), "must have its times in seconds, as the recording's")
        if times[0] > seconds or times[-1] < 0.5 * seconds:
            raise InvalidInput("pressures", float(times[-1]), f"must reach over the recording's {seconds:.1f} s")
        most = float(pressures.max())
        if not LEAST <= most <= MOST:
            raise InvalidInput("pressures", most, _IN_PASCALS)
        return Gauge(times, pressures)

    @staticmethod
    def from_csv(path: Path, seconds: float) -> Gauge:
        """Read `seconds,Pa` rows, under a line of names or not. Raises InvalidInput."""
        rows: list[tuple[float, float]] = []
        try:
            with path.open(newline="", encoding="utf-8") as file:
                for n, row in enumerate(csv.reader(file)):
                    if not row:
                        continue
                    try:
                        rows.append((float(row[0]), float(row[1])))
                    except (ValueError, IndexError):
                        if n == 0:
                            continue
                        raise InvalidInput(f"pressures[{n}]", ",".join(row)[:40], "must be seconds,Pa") from None
                    if len(rows) > MOST_ROWS:
                        raise InvalidInput("pressures", len(rows), f"must be at most {MOST_ROWS} rows")
        except (OSError, UnicodeDecodeError, csv.Error) as failed:
            raise InvalidInput("pressures", str(path), f"cannot be read ({failed})") from None
        table = np.array(rows, dtype=float).reshape(-1, 2)
        return Gauge.of(table[:, 0], table[:, 1], seconds)

    @property
    def most(self) -> float:
        """The largest pressure [Pa]."""
        return float(self.pressures.max())

    def at(self, times: Floats) -> Floats:
        """Pressures [Pa] at times [s]."""
        pressures: Floats = np.interp(times, self.times, self.pressures)
        return pressures
