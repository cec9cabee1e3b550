"""Advice at the tuning bench: from readings to the next cut, with its risk and its reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from acoustics import fields
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE, Air
from acoustics.model.implicit import Complex
from acoustics.notes.music import cents
from acoustics.tuning.aims import Aim, Job
from acoustics.tuning.corrections import NAMES, Prior
from acoustics.tuning.elsewhere import elsewhere
from acoustics.tuning.finished import Outlook, look_ahead
from acoustics.tuning.heard import Comparison, Reading, Unknowns
from acoustics.tuning.next_step import Bench, Step, each_note
from acoustics.tuning.posterior import Posterior, update
from acoustics.tuning.sounding import SHAPE, first_resonances
from acoustics.tuning.words import why

TOLERANCE: Final = 5.0
RISK: Final = 0.02
MAX_READINGS: Final = 400
MAX_TARGETS: Final = 64

_FIELDS: Final = ("instrument", "air", "targets", "readings", "shop", "tolerance", "risk", "drills")


@dataclass(frozen=True)
class AdviceRequest:
    """A flute on the bench, what has been heard of it (oldest first), and what the shop knows beforehand."""

    job: Job
    readings: tuple[Reading, ...]
    prior: Prior

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


@dataclass(frozen=True)
class Advice:
    """The next step, and the belief and outlook that it follows from."""

    step: Step
    outlook: Outlook

    @property
    def belief(self) -> Posterior:
        return self.outlook.belief

    def to_json(self) -> dict[str, Any]:
        """The answer of the `advise` command.

        Beside the contract's fields: `next.fingering` is what to play, or what the cut is for; `next.expected_reading`
        cents that the meter should show right after the cut. Each note has `finished_cents` and `finished_sd_cents`,
        where it ends if its own size stays as it is and all other cuts are made, and how its last reading was taken
        (`set_aside` where it contradicts all else). `expected_cents` of a note is of the flute as it is now; that of
        `next` is of the finished flute.
        """
        return {
            "next": self._next(),
            "notes": self._notes(),
            "corrections": self._corrections(),
            "other_keys": [
                {"key": e.key, "why": e.why}
                for e in (elsewhere(self.outlook) if self.step.action == "cannot reach" else ())
            ],
        }

    def _next(self) -> dict[str, Any]:
        step, outlook = self.step, self.outlook
        note = step.note
        found: dict[str, Any] = {
            "action": step.action,
            "hole": None,
            "fingering": None if note is None else outlook.job.fingerings[note],
            "from": None,
            "to": None,
            "expected_cents": None if note is None else round(float(outlook.kept[note]), 2),
            "sd_cents": None if note is None else round(float(outlook.kept_sd[note]), 2),
            "expected_reading": None,
            "risk_sharp": None if note is None else round(float(outlook.sharp()[note]), 5),
            "why": why(outlook, step),
        }
        if note is not None:
            found["hole"] = outlook.control.get(note, 0) or None
        if step.cut is not None:
            cut = step.cut
            found |= {
                "from": cut.start,
                "to": cut.to,
                "expected_cents": round(cut.cents, 2),
                "sd_cents": round(cut.sd, 2),
                "expected_reading": round(cut.reads, 2),
                "risk_sharp": round(cut.risk, 5),
            }
        return found

    def _notes(self) -> list[dict[str, Any]]:
        outlook = self.outlook
        last: dict[str, tuple[float, bool]] = {}
        targets = {aim.fingering: aim.frequency for aim in outlook.job.aims}
        c = outlook.job.air.speed_of_sound
        for reading, strange in zip(self.belief.readings, self.belief.strange, strict=True):
            if reading.fingering in targets:
                as_here = reading.frequency * c / reading.air.speed_of_sound
                last[reading.fingering] = cents(as_here, targets[reading.fingering]), bool(strange)
        found = []
        for i, (fingering, expected, sd) in enumerate(each_note(outlook)):
            heard, strange = last.get(fingering, (None, False))
            found.append(
                {
                    "fingering": fingering,
                    "expected_cents": round(expected, 2),
                    "sd_cents": round(sd, 2),
                    "last_reading_cents": None if heard is None else round(heard, 2),
                    "set_aside": strange,
                    "finished_cents": round(float(outlook.kept[i]), 2),
                    "finished_sd_cents": round(float(outlook.kept_sd[i]), 2),
                }
            )
        return found

    def _corrections(self) -> dict[str, Any]:
        belief = self.belief
        four = SHAPE + 1
        sds = np.sqrt(np.diag(belief.covariance)[:four])
        units = ("bore radii", "share", "share", "cents")
        return {
            name: {"mean": float(mean), "sd": float(sd), "unit": unit}
            for name, mean, sd, unit in zip(NAMES, belief.mean[:four], sds, units, strict=True)
        }


def advise(document: object) -> dict[str, Any]:
    """The `advise` command: a flute and its readings as JSON to the next step as JSON. Raises InvalidInput.

    The `shop` object is described by `corrections.Prior.from_json`; `learning` makes it from finished flutes.
    """
    return next_step(AdviceRequest.from_json(document)).to_json()


def next_step(request: AdviceRequest) -> Advice:
    """What to do next."""
    belief, start = believe(request)
    outlook = look_ahead(request.job, belief, start)
    return Advice(Bench(outlook).next(), outlook)


def believe(request: AdviceRequest) -> tuple[Posterior, Complex]:
    """What is believed of the flute after its readings, and its resonances (targets,) near that belief, rad/s.

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
