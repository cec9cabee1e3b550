"""Advice at the tuning bench: from readings to the next cut, with its risk and its reason."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np

from acoustics import fields
from acoustics.belief.corrections import Prior, finishing_from_json
from acoustics.belief.heard import Comparison, Reading, Unknowns
from acoustics.belief.posterior import Posterior, update
from acoustics.belief.sounding import SHAPE, first_resonances
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE, Air
from acoustics.model.implicit import Complex
from acoustics.tuning.aims import FOOT_STEP, HOLE_STEP, Aim, Job
from acoustics.tuning.answer import Answer, Left, answered
from acoustics.tuning.finished import look_ahead
from acoustics.tuning.next_step import Bench
from acoustics.tuning.worth import Work

TOLERANCE: Final = 5.0
RISK: Final = 0.03
MAX_READINGS: Final = 400
MAX_TARGETS: Final = 64
_SAME: Final = 1e-6
"""mm: less is no difference."""

_FIELDS: Final = (
    "instrument", "air", "targets", "readings", "shop", "tolerance", "risk", "drills", "smallest_cut", "steps", "work",
)  # fmt: skip


@dataclass(frozen=True)
class AdviceRequest:
    """A flute on the bench, its readings (oldest first), and what the shop already knows."""

    job: Job
    readings: tuple[Reading, ...]
    prior: Prior

    def aimed(self, aims: Sequence[Aim]) -> AdviceRequest:
        """The same flute and readings for other targets. Raises InvalidInput."""
        given = _aims([asdict(aim) for aim in aims], len(self.job.flute.holes))
        return replace(self, job=replace(self.job, aims=given))

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
        smallest: float | None = None,
        steps: tuple[float, float] = (FOOT_STEP, HOLE_STEP),
        work: Work | None = None,
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
            _smallest(smallest, prior),
            work or Work(),
            _steps(dict(zip(("foot", "hole"), steps, strict=True))),
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
        flute = _instrument(given["instrument"], "instrument")
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
            _smallest(given.get("smallest_cut"), prior),
            _work(given.get("work", {})),
            _steps(given.get("steps", {})),
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
            if not same:
                _never_grew(readings[-1].instrument, flute, f"readings[{i}].instrument")
        return AdviceRequest(job, tuple(readings), prior)


def advise(request: AdviceRequest) -> Answer:
    """What to do next, and what is believed of the flute."""
    belief, start = believe(request)
    outlook = look_ahead(request.job, belief, start)
    bench = Bench(outlook)
    step = bench.next()
    cuts, readings = bench.left()
    if step.action == "done":
        outlook = look_ahead(request.job, belief, start, finished=True)
    return answered(step, outlook, Left(cuts, readings))


def believe(request: AdviceRequest) -> tuple[Posterior, Complex]:
    """The belief about the flute after its readings, and its resonances (targets,) near that belief, rad/s."""
    job, prior, readings = request.job, request.prior, request.readings
    near: dict[str, float] = {
        r.fingering: r.frequency for r in reversed(readings) if len(r.fingering) == len(job.flute.holes)
    }
    near |= {aim.fingering: aim.frequency for aim in job.aims}
    shape = tuple(prior.mean[:SHAPE].tolist())
    now = dict(zip(near, sounds(job.flute, job.air, tuple(near.items()), shape), strict=True))
    for r in readings:
        if r.fingering not in now:
            now[r.fingering] = sounds(r.instrument, job.air, ((r.fingering, r.frequency),), shape)[0]
    fingerings = list(dict.fromkeys([*job.fingerings, *(r.fingering for r in readings)]))
    hertz = {fingering: now[fingering].real / (2.0 * np.pi) for fingering in fingerings}
    unknowns = Unknowns.of(fingerings, [job.flute, *(r.instrument for r in readings)], hertz)
    belief = update(prior, unknowns, readings, Comparison(readings, unknowns, job.air, now).at)
    return belief, np.array([now[f] for f in job.fingerings])


@lru_cache(maxsize=64)
def sounds(
    flute: Instrument, air: Air, near: tuple[tuple[str, float], ...], shape: tuple[float, ...]
) -> tuple[complex, ...]:
    """First resonances (rad/s) of some fingerings, each `near` some Hz. Kept: until it is cut, the next piece of advice
    asks for the same."""
    hertz = np.array([frequency for _, frequency in near])
    found = first_resonances(flute, air, [fingering for fingering, _ in near], np.array(shape), hertz)
    return tuple(complex(w) for w in found)


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
    names = ("fingering", "frequency", "instrument", "air", "session")
    given: Mapping[str, Any] = fields.mapping(value, at, names, required=("fingering", "frequency"))
    then = flute if known is None else known
    if known is None and given.get("instrument") is not None:
        then = _instrument(given["instrument"], f"{at}.instrument")
    return Reading(
        _fingering(given["fingering"], f"{at}.fingering", len(then.holes)),
        fields.number(given["frequency"], f"{at}.frequency", 50.0, 5000.0, "Hz"),
        then,
        Air.from_json(given["air"], f"{at}.air") if given.get("air") is not None else air,
        _session(given.get("session"), f"{at}.session"),
    )


def _instrument(value: object, at: str) -> Instrument:
    try:
        return Instrument.from_json(value)
    except InvalidInput as refused:
        # What is wrong with the whole document is named as the document.
        field = at if refused.field in ("document", "instrument") else f"{at}.{refused.field}"
        raise InvalidInput(field, refused.value, refused.limit) from None


def _never_grew(then: Instrument, now: Instrument, at: str) -> None:
    """Refuse a reading of a flute that would have had to grow since."""
    if len(then.holes) != len(now.holes):
        return
    for i, (before, after) in enumerate(zip(then.holes, now.holes, strict=True)):
        if before.diameter > after.diameter + _SAME:
            raise InvalidInput(
                f"{at}.holes[{i}].diameter",
                before.diameter,
                f"must be at most what the hole is now, {after.diameter:g} mm: holes only get larger",
            )
    if then.foot_x < now.foot_x - _SAME:
        raise InvalidInput(
            f"{at}.bore[{len(then.bore) - 1}][0]",
            then.foot_x,
            f"must be at least where the foot is now, {now.foot_x:g} mm: the foot only gets shorter",
        )


def _smallest(value: object, prior: Prior) -> float:
    least = 2.0 * prior.cut_sd if value is None else fields.number(value, "smallest_cut", 0.0, 5.0, "mm")
    return max(least, _SAME)


def _steps(value: object) -> tuple[float, float]:
    given = fields.mapping(value, "steps", ("foot", "hole"))
    return (
        fields.number(given.get("foot", FOOT_STEP), "steps.foot", 0.01, 5.0, "mm"),
        fields.number(given.get("hole", HOLE_STEP), "steps.hole", 0.005, 2.0, "mm"),
    )


def _work(value: object) -> Work:
    plain = Work()
    names = ("reading", "cut", "flat", "sharp")
    given = fields.mapping(value, "work", names)
    limits = {"reading": (0.05, 60.0), "cut": (0.1, 240.0), "flat": (0.1, 1e4), "sharp": (0.1, 1e5)}
    return Work(
        *(
            fields.number(given.get(name, getattr(plain, name)), f"work.{name}", *limits[name], "minutes")
            for name in names
        )
    )


def _session(value: object, at: str) -> str | None:
    if value is not None and (not isinstance(value, str) or len(value) > 200):
        raise InvalidInput(at, value, "must be a text of at most 200 letters")
    return value


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
