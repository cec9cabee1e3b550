"""Advice at the tuning bench: from readings to the next cut, with its risk and its reason."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np

from acoustics import fields
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE, Air
from acoustics.model.implicit import Complex
from acoustics.tuning.aims import Aim, Job
from acoustics.tuning.answer import Answer, answered
from acoustics.tuning.corrections import Prior, finishing_from_json
from acoustics.tuning.finished import look_ahead
from acoustics.tuning.heard import Comparison, Reading, Unknowns
from acoustics.tuning.next_step import Bench
from acoustics.tuning.posterior import Posterior, update
from acoustics.tuning.sounding import SHAPE, first_resonances

TOLERANCE: Final = 5.0
RISK: Final = 0.02
MAX_READINGS: Final = 400
MAX_TARGETS: Final = 64

_FIELDS: Final = ("instrument", "air", "targets", "readings", "shop", "tolerance", "risk", "drills")


@dataclass(frozen=True)
class AdviceRequest:
    """A flute on the bench, its readings (oldest first), and what the shop already knows."""

    job: Job
    readings: tuple[Reading, ...]
    prior: Prior

    @staticmethod
    def of(
        flute: Instrument,
        aims: Sequence[Aim],
        readings: Sequence[Reading] = (),
        *,
        air: Air = PLAYED_FLUTE,
        prior: Prior | None = None,
        tolerance: float = TOLERANCE,
        risk: float = RISK,
        drills: Sequence[float] | None = None,
    ) -> AdviceRequest:
        """The request, within the limits that hold for the document of the `advise` command. Raises InvalidInput."""
        prior = prior or Prior()
        finishing_from_json(asdict(prior.finishing), "shop.finishing")
        job = Job(
            flute,
            air,
            _aims([asdict(aim) for aim in aims], len(flute.holes)),
            fields.number(tolerance, "tolerance", 0.5, 50.0, "cents"),
            fields.number(risk, "risk", 1e-6, 0.5),
            _drills(drills),
            prior.finishing,
        )
        job.finished(job.controls)
        fields.sequence(readings, "readings", MAX_READINGS)
        for i, reading in enumerate(readings):
            _fingering(reading.fingering, f"readings[{i}].fingering", len(reading.instrument.holes))
            fields.number(reading.frequency, f"readings[{i}].frequency", 50.0, 5000.0, "Hz")
        return AdviceRequest(job, tuple(readings), prior)

    @staticmethod
    def from_json(document: object) -> AdviceRequest:
        """Read the document of the `advise` command. Raises InvalidInput."""
        given = fields.mapping(document, "", _FIELDS, required=("instrument", "targets"))
        flute = Instrument.from_json(given["instrument"])
        air = Air.from_json(given["air"]) if "air" in given else PLAYED_FLUTE
        prior = Prior.from_json(given.get("shop"))
        job = Job(
            flute,
            air,
            _aims(given["targets"], len(flute.holes)),
            fields.number(given.get("tolerance", TOLERANCE), "tolerance", 0.5, 50.0, "cents"),
            fields.number(given.get("risk", RISK), "risk", 1e-6, 0.5),
            _drills(given.get("drills")),
            prior.finishing,
        )
        job.finished(job.controls)
        raw = fields.sequence(given.get("readings", []), "readings", MAX_READINGS)
        readings: list[Reading] = []
        for i, value in enumerate(raw):
            # Most readings are of the same flute as the one before.
            same = i > 0 and isinstance(value, Mapping) and _same_flute(value, raw[i - 1])
            readings.append(
                reading_from_json(value, f"readings[{i}]", flute, air, readings[-1].instrument if same else None)
            )
        return AdviceRequest(job, tuple(readings), prior)


def advise(request: AdviceRequest) -> Answer:
    """What to do next, and what is believed of the flute."""
    belief, start = believe(request)
    outlook = look_ahead(request.job, belief, start)
    return answered(Bench(outlook).next(), outlook)


def believe(request: AdviceRequest) -> tuple[Posterior, Complex]:
    """The belief about the flute after its readings, and its resonances (targets,) near that belief, rad/s.

    The first guess of the corrections comes from the readings of the flute as it last was heard, for which one
    evaluation of the model is enough.
    """
    job, prior, readings = request.job, request.prior, request.readings
    near: dict[str, float] = {
        r.fingering: r.frequency for r in reversed(readings) if len(r.fingering) == len(job.flute.holes)
    }
    near |= {aim.fingering: aim.frequency for aim in job.aims}
    shape = prior.mean[:SHAPE]
    w = first_resonances(job.flute, job.air, list(near), shape, np.array(list(near.values())))
    now = dict(zip(near, w.tolist(), strict=True))
    for r in readings:
        if r.fingering not in now:
            guess = first_resonances(r.instrument, job.air, [r.fingering], shape, np.array([r.frequency]))
            now[r.fingering] = complex(guess[0])
    fingerings = list(dict.fromkeys([*job.fingerings, *(r.fingering for r in readings)]))
    unknowns = Unknowns.of(fingerings, [job.flute, *(r.instrument for r in readings)])
    guess_from = [r for r in readings if r.instrument == readings[-1].instrument]
    start, offset = None, float(prior.mean[SHAPE])
    if readings:
        rough = update(prior, unknowns, guess_from, Comparison(guess_from, unknowns, job.air, now, offset).at, steps=1)
        start, offset = rough.shape, float(rough.mean[SHAPE])
    belief = update(prior, unknowns, readings, Comparison(readings, unknowns, job.air, now, offset).at, start)
    return belief, np.array([now[f] for f in job.fingerings])


def _aims(value: object, holes: int) -> tuple[Aim, ...]:
    aims: list[Aim] = []
    for i, item in enumerate(fields.sequence(value, "targets", MAX_TARGETS, at_least=1)):
        at = f"targets[{i}]"
        given = fields.mapping(item, at, ("fingering", "frequency"), required=("fingering", "frequency"))
        fingering = _fingering(given["fingering"], f"{at}.fingering", holes)
        if fingering in {aim.fingering for aim in aims}:
            raise InvalidInput(f"{at}.fingering", fingering, "is given twice")
        aims.append(Aim(fingering, fields.number(given["frequency"], f"{at}.frequency", 50.0, 5000.0, "Hz")))
    return tuple(aims)


def _same_flute(value: Mapping[str, Any], before: object) -> bool:
    return isinstance(before, Mapping) and value.get("instrument") == before.get("instrument")


def reading_from_json(value: object, at: str, flute: Instrument, air: Air, known: Instrument | None = None) -> Reading:
    """A reading as `advise` takes it, of `flute` in `air` where it does not say otherwise. Raises InvalidInput.

    `known` is what its instrument has been read to be already.
    """
    names = ("fingering", "frequency", "instrument", "air")
    given: Mapping[str, Any] = fields.mapping(value, at, names, required=("fingering", "frequency"))
    then = flute if known is None else known
    if known is None and given.get("instrument") is not None:
        try:
            then = Instrument.from_json(given["instrument"])
        except InvalidInput as refused:
            raise InvalidInput(f"{at}.{refused.field}", refused.value, refused.limit) from None
    return Reading(
        _fingering(given["fingering"], f"{at}.fingering", len(then.holes)),
        fields.number(given["frequency"], f"{at}.frequency", 50.0, 5000.0, "Hz"),
        then,
        Air.from_json(given["air"], f"{at}.air") if given.get("air") is not None else air,
    )


def _fingering(value: object, at: str, holes: int) -> str:
    if not isinstance(value, str) or set(value) - {"x", "o"}:
        raise InvalidInput(at, value, "must be a string of x (closed) and o (open)")
    if len(value) != holes:
        raise InvalidInput(at, value, f"must have {holes} letters, one for each finger hole")
    return value


def _drills(value: object) -> tuple[float, ...] | None:
    if value is None:
        return None
    drills = fields.sequence(value, "drills", 400, at_least=1)
    return tuple(sorted({fields.number(d, f"drills[{i}]", 0.5, 40.0, "mm") for i, d in enumerate(drills)}))
