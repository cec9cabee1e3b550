"""What the model of a flute cannot know, how uncertain it is, and the shop's own figures for it.

Four corrections describe one flute: `window`, length that the window adds beyond the model, in radii of the bore
there; `bore` and `holes`, by what share the bore and the finger holes act wider than they measure; `air`, cents by
which the breath stands above the stated air. Beside them every note may stand off by itself, every cut is a little
off, and every reading has its noise.
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

NAMES: Final = ("window", "bore", "holes", "air")
LIMITS: Final = {"window": 3.0, "bore": 0.2, "holes": 0.4, "air": 80.0}
"""Largest correction on either side that is believed, each in its own unit."""
LARGEST_SPREAD: Final = {"window": 3.0, "bore": 0.2, "holes": 0.5, "air": 100.0}

WIDE: Final = {"window": 0.3, "bore": 0.008, "holes": 0.03, "air": 8.0}
"""Standard deviations for a shop that knows nothing yet. The window: published formulas agree to about a tenth of the
four to six radii that it adds, more with a block beside it. Bore and holes: gauges, ovality, edges. Air: 2 degrees C
and 1 % of carbon dioxide. Estimates, no published source."""
NOTE_SD: Final = 0.6
"""Cents by which a note may stand off by itself (breath, shape of the hole, the model's own error): an estimate."""
READING_SD: Final = 3.0
"""Cents of one reading: breath and meter (common practice, no published source)."""
CUT_SD: Final = 0.05
"""mm by which a hole or a foot differs from what it is meant to be: callipers and file (common practice)."""

_FIELDS: Final = (
    "mean", "covariance", "notes", "note_sd", "reading_sd", "cut_sd", "finishing", "flutes", "family",
)  # fmt: skip


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

    `mean` (4,) and `covariance` (4, 4) are of the corrections in the order of `NAMES`; `notes` cents by which single
    fingerings stand off on this shop's flutes, and `note_sd` their spread (cents) from flute to flute; `reading_sd`
    cents, `cut_sd` mm; `flutes` how many finished flutes it was learned from, `family` of which pattern family.
    """

    mean: Array = field(default_factory=lambda: np.zeros(4))
    covariance: Array = field(default_factory=_wide)
    notes: Mapping[str, float] = field(default_factory=dict)
    note_sd: float = NOTE_SD
    reading_sd: float = READING_SD
    cut_sd: float = CUT_SD
    finishing: Finishing = field(default_factory=Finishing)
    flutes: int = 0
    family: str = ""

    @property
    def _says(self) -> tuple[object, ...]:
        notes = tuple(sorted(self.notes.items()))
        spreads = (self.note_sd, self.reading_sd, self.cut_sd, self.finishing)
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
             "notes": {"xxxxxx": -0.8}, "note_sd": 1.5, "reading_sd": 3.0, "cut_sd": 0.05,
             "finishing": {"wall": 0.3, "cents": 0.0, "sd": 1.0}, "flutes": 12, "family": "A4 small"}

        `covariance` has its rows and columns in the order window, bore, holes, air.
        """
        if document is None:
            return Prior()
        given = fields.mapping(document, at, _FIELDS)
        plain = Prior()
        means = fields.mapping(given.get("mean", {}), f"{at}.mean", NAMES)
        mean = [fields.number(means.get(name, 0.0), f"{at}.mean.{name}", -LIMITS[name], LIMITS[name]) for name in NAMES]
        return Prior(
            mean=np.array(mean),
            covariance=_covariance(given["covariance"], f"{at}.covariance") if "covariance" in given else _wide(),
            notes=_notes(given.get("notes", {}), f"{at}.notes"),
            note_sd=fields.number(given.get("note_sd", plain.note_sd), f"{at}.note_sd", 0.0, 50.0, "cents"),
            reading_sd=fields.number(given.get("reading_sd", plain.reading_sd), f"{at}.reading_sd", 0.1, 50.0, "cents"),
            cut_sd=fields.number(given.get("cut_sd", plain.cut_sd), f"{at}.cut_sd", 0.0, 2.0, "mm"),
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
            "note_sd": self.note_sd,
            "reading_sd": self.reading_sd,
            "cut_sd": self.cut_sd,
            "finishing": {"wall": self.finishing.wall, "cents": self.finishing.cents, "sd": self.finishing.sd},
            "flutes": self.flutes,
            "family": self.family,
        }


def _covariance(value: object, at: str) -> Array:
    rows = []
    for i, row in enumerate(fields.sequence(value, at, 4, at_least=4)):
        entries = fields.sequence(row, f"{at}[{i}]", 4, at_least=4)
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
