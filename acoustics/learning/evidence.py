"""The evidence of one finished flute on the corrections, small enough to be stored with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from acoustics import fields
from acoustics.belief.corrections import Prior
from acoustics.belief.heard import Comparison, Reading, Unknowns
from acoustics.belief.posterior import prior_of, update
from acoustics.belief.sounding import SHAPE, first_resonances
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE, Air
from acoustics.model.implicit import Array
from acoustics.tuning.advise import MAX_READINGS, reading_from_json

FOUR: Final = SHAPE + 1
_KEPT: Final = ("name", "family", "notes", "information", "score", "fingerings", "cents", "rows")


@dataclass(frozen=True)
class FinishedFlute:
    """A flute with all its readings. `excluded` says why nothing is learned from it; empty if something is."""

    name: str
    family: str
    instrument: Instrument
    air: Air
    readings: tuple[Reading, ...]
    excluded: str = ""

    @staticmethod
    def from_json(document: object, at: str) -> FinishedFlute:
        """Read ``{"name", "family", "instrument", "air", "readings": [as in advise], "excluded": "why"}``."""
        names = ("name", "family", "instrument", "air", "readings", "excluded")
        given = fields.mapping(document, at, names, required=("instrument", "readings"))
        try:
            flute = Instrument.from_json(given["instrument"])
        except InvalidInput as refused:
            raise InvalidInput(f"{at}.instrument.{refused.field}", refused.value, refused.limit) from None
        air = Air.from_json(given["air"], f"{at}.air") if "air" in given else PLAYED_FLUTE
        raw = fields.sequence(given["readings"], f"{at}.readings", MAX_READINGS)
        texts = _texts(given, at, ("name", "family", "excluded"))
        return FinishedFlute(
            texts["name"],
            texts["family"],
            flute,
            air,
            tuple(reading_from_json(r, f"{at}.readings[{i}]", flute, air) for i, r in enumerate(raw)),
            texts["excluded"],
        )


@dataclass(frozen=True)
class Evidence:
    """The evidence of one flute.

    `information` (k, k) and `score` (k,) of a normal likelihood of its corrections and notes: the four of `NAMES`,
    then an offset for each of `notes`. Of each reading that was believed: its `fingerings` (r,), `cents` (r,) above the
    bare model, and `rows` (r, k) of their rates.
    """

    name: str
    family: str
    notes: tuple[str, ...]
    information: Array
    score: Array
    fingerings: tuple[str, ...]
    cents: Array
    rows: Array

    def to_json(self) -> dict[str, Any]:
        """As JSON: some 2 kB for each ten readings."""
        return {
            "name": self.name,
            "family": self.family,
            "notes": list(self.notes),
            "information": self.information.tolist(),
            "score": self.score.tolist(),
            "fingerings": list(self.fingerings),
            "cents": self.cents.tolist(),
            "rows": self.rows.tolist(),
        }

    @staticmethod
    def from_json(document: object, at: str = "evidence") -> Evidence:
        """What `to_json` gave. Raises InvalidInput."""
        given = fields.mapping(document, at, _KEPT, required=_KEPT)
        texts = _texts(given, at, ("name", "family"))
        notes, fingerings = (_fingerings(given[name], f"{at}.{name}") for name in ("notes", "fingerings"))
        if set(fingerings) - set(notes):
            raise InvalidInput(f"{at}.notes", list(notes), "must hold every fingering that was read")
        k = FOUR + len(notes)
        shapes = {"information": (k, k), "score": (k,), "cents": (len(fingerings),), "rows": (len(fingerings), k)}
        arrays = {}
        for name, shape in shapes.items():
            try:
                array = np.array(given[name], dtype=np.float64).reshape(shape)
            except (TypeError, ValueError):
                array = np.full(shape, np.nan)
            if not np.all(np.isfinite(array)):
                raise InvalidInput(f"{at}.{name}", given[name], f"must be finite numbers of shape {shape}")
            arrays[name] = array
        return Evidence(
            texts["name"],
            texts["family"],
            notes,
            arrays["information"],
            arrays["score"],
            fingerings,
            arrays["cents"],
            arrays["rows"],
        )


def evidence(flute: FinishedFlute, prior: Prior | None = None) -> Evidence:
    """The evidence of one flute, to first order around its most likely state; without `prior` by the stated wide one.

    Sizes as they were cut, single holes and sittings are integrated out. Readings that contradict the rest of their
    flute are left out, as on the bench.
    """
    prior = Prior() if prior is None else prior
    readings = flute.readings
    near = {r.fingering: r.frequency for r in readings}
    now: dict[str, complex] = {}
    for r in readings:
        if r.fingering not in now:
            guess = np.array([near[r.fingering]])
            found = first_resonances(r.instrument, flute.air, [r.fingering], prior.mean[:SHAPE], guess)
            now[r.fingering] = complex(found[0])
    hertz = {fingering: now[fingering].real / (2.0 * np.pi) for fingering in near}
    unknowns = Unknowns.of(list(near), [r.instrument for r in readings], hertz)
    belief = update(prior, unknowns, readings, Comparison(readings, unknowns, flute.air, now).at)
    good = ~belief.strange
    H = belief.linear.rows[good]
    y = belief.linear.cents[good] + H[:, :SHAPE] @ belief.linear.shape
    known = FOUR + len(unknowns.notes)
    rest = prior_of(prior, unknowns)
    apart = rest.at(belief.width)[known:, known:]
    shared = belief.linear.earlier.sum(axis=-1)[np.ix_(good, good)] * (prior.session_sd * belief.width.sitting) ** 2
    noise = prior.reading_sd**2 / belief.good[good]
    R = H[:, known:] @ apart @ H[:, known:].T + shared + np.diag(noise)
    A = H[:, :known]
    weighted = np.linalg.solve(R, A)
    kept = tuple(r.fingering for r, keep in zip(readings, good, strict=True) if keep)
    return Evidence(flute.name, flute.family, unknowns.notes, A.T @ weighted, weighted.T @ y, kept, y, A)


def _fingerings(value: object, at: str) -> tuple[str, ...]:
    found = fields.sequence(value, at, MAX_READINGS)
    for fingering in found:
        if not isinstance(fingering, str) or set(fingering) - {"x", "o"}:
            raise InvalidInput(at, fingering, "must be strings of x (closed) and o (open)")
    return tuple(found)


def _texts(given: Mapping[str, Any], at: str, names: tuple[str, ...]) -> dict[str, str]:
    texts = {name: given.get(name, "") for name in names}
    for name, value in texts.items():
        if not isinstance(value, str) or len(value) > 200:
            raise InvalidInput(f"{at}.{name}", value, "must be a text of at most 200 letters")
    return texts
