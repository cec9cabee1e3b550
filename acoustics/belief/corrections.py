"""What the model of a flute cannot know, how uncertain it is, and the shop's own figures for it.

A few corrections describe one flute (`CORRECTIONS`). Beside them every note may stand off by itself, partly as its
neighbours do; every hole acts a little wider or narrower than it measures; every cut is a little off and a few slip;
readings of one sitting share their player, day and air; and every reading has its noise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics import fields
from acoustics.errors import InvalidInput

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Correction:
    """One correction: its unit, the largest that is believed on either side, the largest spread that may be stated, the
    spread of a shop that knows nothing yet, and the step by which the model is differentiated."""

    name: str
    unit: str
    limit: float
    largest_spread: float
    wide: float
    step: float


SHAPES: Final = (
    Correction("window", "bore radii", 3.0, 3.0, 0.3, 1e-4),
    Correction("bore", "share", 0.2, 0.2, 0.008, 1e-6),
    Correction("holes", "share", 0.4, 0.5, 0.03, 1e-5),
)
"""Corrections that change where the flute resonates (`sounding.network` says how): `window` is length that the window
adds beyond the model, in radii of the bore there; `bore` and `holes` by what share bore and finger holes act wider than
they measure. Spreads: published window formulas agree to about a tenth of the four to six radii that it adds, more with
a block beside it; bore and holes: gauges, ovality, edges. Estimates, no published source."""
CORRECTIONS: Final = (*SHAPES, Correction("air", "cents", 80.0, 100.0, 8.0, 1.0))
"""All of them. `air` shifts every note by the cents by which the breath stands above the stated air: 2 degrees C and
1 % of carbon dioxide."""

NAMES: Final = tuple(one.name for one in CORRECTIONS)
SHAPE: Final = len(SHAPES)
"""How many corrections come before `air`, the last."""
COUNT: Final = len(CORRECTIONS)
LIMITS: Final = {one.name: one.limit for one in CORRECTIONS}
LARGEST_SPREAD: Final = {one.name: one.largest_spread for one in CORRECTIONS}
WIDE: Final = {one.name: one.wide for one in CORRECTIONS}
NOTE_SD: Final = 1.5
"""Cents by which a note may stand off by itself (shape and place of its hole, the model's own error): an estimate."""
SMOOTH_SD: Final = 3.0
"""Cents by which a note may stand off as its neighbours do (breath, taper, the model's own error): an estimate."""
HOLE_SD: Final = 0.01
"""Share by which a single hole acts wider than it measures, whatever its size (ovality, burr, chimney): an estimate."""
SESSION_SD: Final = 3.0
"""Cents that the readings of one sitting share (day, thermometer, player): an estimate."""
READING_SD: Final = 3.0
"""Cents of one reading: breath and meter (common practice, no published source)."""
CUT_SD: Final = 0.05
"""mm by which a hole or a foot differs from what it is meant to be: callipers and file (common practice)."""
SLIP: Final = 0.018
"""Share of cuts that slip and take more than was meant: an estimate."""
SLIP_SD: Final = 0.5
"""mm that a cut which slips takes too much, as the spread of a normal cut off at none: an estimate."""

_FIELDS: Final = (
    "mean", "covariance", "notes", "note_sd", "smooth_sd", "hole_sd", "session_sd", "reading_sd", "cut_sd", "slip",
    "finishing", "flutes", "family",
)  # fmt: skip
_SPREADS: Final = (
    ("note_sd", 0.0, 50.0, "cents"),
    ("smooth_sd", 0.0, 50.0, "cents"),
    ("hole_sd", 0.0, 0.2, ""),
    ("session_sd", 0.0, 50.0, "cents"),
    ("reading_sd", 0.1, 50.0, "cents"),
    ("cut_sd", 0.0, 2.0, "mm"),
    ("slip", 0.0, 0.2, ""),
)


@dataclass(frozen=True, slots=True)
class Finishing:
    """What turning, sanding and coating will still do: `wall` mm come off outside; `cents` more, give or take `sd`."""

    wall: float = 0.0
    cents: float = 0.0
    sd: float = 0.0


def _wide() -> Array:
    return np.diag([WIDE[name] ** 2 for name in NAMES])


@dataclass(frozen=True, eq=False)
class Prior:
    """What is known of a flute before any reading.

    `mean` and `covariance` are of the corrections in the order of `NAMES`; `notes` cents by which single fingerings
    stand off on this shop's flutes, `note_sd` their spread (cents) from flute to flute, each by itself, `smooth_sd` as
    far as neighbours share it; `hole_sd` a share, `session_sd` and `reading_sd` cents, `cut_sd` mm, `slip` the share of
    cuts that slip; `flutes` how many finished flutes it was learned from, `family` of which pattern family.
    """

    mean: Array = field(default_factory=lambda: np.zeros(COUNT))
    covariance: Array = field(default_factory=_wide)
    notes: Mapping[str, float] = field(default_factory=dict)
    note_sd: float = NOTE_SD
    smooth_sd: float = SMOOTH_SD
    hole_sd: float = HOLE_SD
    session_sd: float = SESSION_SD
    reading_sd: float = READING_SD
    cut_sd: float = CUT_SD
    slip: float = SLIP
    finishing: Finishing = field(default_factory=Finishing)
    flutes: int = 0
    family: str = ""

    @property
    def _says(self) -> tuple[object, ...]:
        notes = tuple(sorted(self.notes.items()))
        spreads = (*(getattr(self, name) for name, *_ in _SPREADS), self.finishing)
        return (*self.mean.tolist(), *self.covariance.ravel().tolist(), notes, *spreads, self.flutes, self.family)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Prior) and self._says == other._says

    def __hash__(self) -> int:
        return hash(self._says)

    @staticmethod
    def from_json(document: object, at: str = "shop") -> Prior:
        """Read the shop's corrections; absent (None) gives the stated wide prior. Raises InvalidInput.

        Every field may be absent::

            {"mean": {"window": 0.1, "bore": -0.002, "holes": 0.01, "air": 2.0},
             "covariance": [[...], [...], [...], [...]],
             "notes": {"xxxxxx": -0.8}, "note_sd": 1.5, "smooth_sd": 3.0, "hole_sd": 0.01, "session_sd": 3.0,
             "reading_sd": 3.0, "cut_sd": 0.05, "slip": 0.018,
             "finishing": {"wall": 0.3, "cents": 0.0, "sd": 1.0}, "flutes": 12, "family": "A4 small"}

        `covariance` has its rows and columns in the order window, bore, holes, air.
        """
        if document is None:
            return Prior()
        given = fields.mapping(document, at, _FIELDS)
        plain = Prior()
        means = fields.mapping(given.get("mean", {}), f"{at}.mean", NAMES)
        mean = [fields.number(means.get(name, 0.0), f"{at}.mean.{name}", -LIMITS[name], LIMITS[name]) for name in NAMES]
        spreads = {
            name: fields.number(given.get(name, getattr(plain, name)), f"{at}.{name}", low, high, unit)
            for name, low, high, unit in _SPREADS
        }
        return Prior(
            **spreads,
            mean=np.array(mean),
            covariance=_covariance(given["covariance"], f"{at}.covariance") if "covariance" in given else _wide(),
            notes=_notes(given.get("notes", {}), f"{at}.notes"),
            finishing=finishing_from_json(given.get("finishing", {}), f"{at}.finishing"),
            flutes=int(fields.number(given.get("flutes", 0), f"{at}.flutes", 0, 1e9)),
            family=_text(given.get("family", ""), f"{at}.family"),
        )

    def to_json(self) -> dict[str, Any]:
        """The `shop` object that `from_json` reads back."""
        return {
            "mean": {name: float(value) for name, value in zip(NAMES, self.mean, strict=True)},
            "covariance": self.covariance.tolist(),
            "notes": dict(self.notes),
            **{name: getattr(self, name) for name, *_ in _SPREADS},
            "finishing": {"wall": self.finishing.wall, "cents": self.finishing.cents, "sd": self.finishing.sd},
            "flutes": self.flutes,
            "family": self.family,
        }


def _covariance(value: object, at: str) -> Array:
    rows = []
    for i, row in enumerate(fields.sequence(value, at, COUNT, at_least=COUNT)):
        entries = fields.sequence(row, f"{at}[{i}]", COUNT, at_least=COUNT)
        largest = [LARGEST_SPREAD[NAMES[i]] * LARGEST_SPREAD[name] for name in NAMES]
        rows.append(
            [fields.number(entry, f"{at}[{i}][{j}]", -largest[j], largest[j]) for j, entry in enumerate(entries)]
        )
    found = np.array(rows)
    sds = np.sqrt(np.abs(np.diag(found)))
    scale = np.outer(sds, sds)
    if np.any(np.diag(found) <= 0.0) or np.any(np.abs(found - found.T) > 1e-9 * scale):
        raise InvalidInput(at, value, "must be symmetric with a positive diagonal")
    if np.linalg.eigvalsh(found / scale)[0] <= 1e-12:
        raise InvalidInput(at, value, "must be positive definite")
    return np.asarray(0.5 * (found + found.T))


def _notes(value: object, at: str) -> dict[str, float]:
    if not isinstance(value, Mapping):
        raise InvalidInput(at, value, "must be a JSON object of cents by fingering")
    found = {}
    for fingering, cents in list(value.items()):
        if not isinstance(fingering, str) or set(fingering) - {"x", "o"} or len(fingering) > 12:
            raise InvalidInput(f"{at}.{fingering}", cents, "must be named by a fingering of x and o")
        found[fingering] = fields.number(cents, f"{at}.{fingering}", -100.0, 100.0, "cents")
    return found


def finishing_from_json(value: object, at: str) -> Finishing:
    """What is still to come, of a JSON object. Raises InvalidInput."""
    given = fields.mapping(value, at, ("wall", "cents", "sd"))
    return Finishing(
        wall=fields.number(given.get("wall", 0.0), f"{at}.wall", 0.0, 20.0, "mm"),
        cents=fields.number(given.get("cents", 0.0), f"{at}.cents", -50.0, 50.0, "cents"),
        sd=fields.number(given.get("sd", 0.0), f"{at}.sd", 0.0, 50.0, "cents"),
    )


def _text(value: object, at: str) -> str:
    if not isinstance(value, str) or len(value) > 200:
        raise InvalidInput(at, value, "must be a text of at most 200 letters")
    return value
