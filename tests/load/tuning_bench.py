"""A flute that is not as the model has it, and a maker who does what the advice says: through JSON only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from acoustics.belief.corrections import CUT_SD, NAMES, READING_SD, WIDE
from acoustics.belief.sounding import first_resonances
from acoustics.commands import advise
from acoustics.designing.design import DesignRequest, design
from acoustics.flute.instrument import Instrument
from acoustics.model.air import PLAYED_FLUTE, Air
from acoustics.model.implicit import CENTS
from acoustics.tuning.advise import AdviceRequest, believe
from acoustics.tuning.aims import controls_of, with_controls
from acoustics.tuning.finished import look_ahead


@dataclass(frozen=True)
class Task:
    """A designed flute and the frequencies (Hz) that it is made for."""

    key: str
    flute: Instrument
    air: Air
    fingerings: tuple[str, ...]
    targets: np.ndarray

    @staticmethod
    def of(key: str, holes: int = 6, scale: str = "minor pentatonic") -> Task:
        request = DesignRequest.from_json({"key": key, "drills": None, "holes": holes, "scale": scale})
        found = design(request)
        notes = [note for note in found.notes if not note.cross or scale == "minor pentatonic"]
        return Task(
            key,
            found.instrument,
            PLAYED_FLUTE,
            tuple(note.fingering for note in notes),
            np.array([note.target for note in notes]),
        )


@dataclass
class Bench:
    """A true flute. Only `read`, `cut` and `cents` look at the truth: `corrections` (window in bore radii, bore and
    holes as shares, air in cents), and sizes that differ from those on paper by `errors` mm."""

    task: Task
    corrections: np.ndarray
    paper: Instrument
    rng: np.random.Generator
    reading_sd: float = READING_SD
    cut_sd: float = CUT_SD
    errors: np.ndarray = field(default_factory=lambda: np.zeros(7))
    readings: list[dict[str, Any]] = field(default_factory=list)
    cuts: int = 0

    @staticmethod
    def drawn(
        task: Task, seed: int, width: float = 1.0, mean: Sequence[float] = (0, 0, 0, 0), room: float = 1.0, **sds: float
    ) -> Bench:
        """A flute whose corrections are drawn from the stated prior, `width` times as wide, around `mean`.

        `room` scales how much is still to be cut away: at 1 the foot is 4.5 % long and holes are 28 % narrow.
        """
        rng = np.random.default_rng(seed)
        spread = np.array(list(WIDE.values()))
        corrections = np.array(mean) + width * spread * rng.standard_normal(4)
        controls = controls_of(task.flute)
        start = controls.copy()
        start[0] = np.ceil(controls[0] * (1.0 + 0.045 * room))
        start[1:] = np.floor(10.0 * controls[1:] * max(0.4, 1.0 - 0.28 * room)) / 10.0
        bench = Bench(task, corrections, with_controls(task.flute, start), rng, **sds)
        bench.errors = bench.cut_sd * rng.standard_normal(len(start))
        return bench

    @property
    def truth(self) -> Instrument:
        return with_controls(self.paper, controls_of(self.paper) + self.errors)

    def cents(self, fingerings: Sequence[str] | None = None) -> np.ndarray:
        """Where the true flute stands, cents above target."""
        which = [self.task.fingerings.index(f) for f in fingerings or self.task.fingerings]
        wanted = self.task.targets[which]
        names = [self.task.fingerings[i] for i in which]
        w = first_resonances(self.truth, self.task.air, names, self.corrections[:3], wanted)
        return CENTS * np.log(w.real / (2.0 * np.pi * wanted)) + self.corrections[3]

    def read(self, fingering: str) -> float:
        """Play a note and write down what the meter shows, Hz."""
        cents = self.cents([fingering])[0] + self.reading_sd * self.rng.standard_normal()
        frequency = float(self.task.targets[self.task.fingerings.index(fingering)] * 2.0 ** (cents / 1200.0))
        self.readings.append({"fingering": fingering, "frequency": frequency, "instrument": self.paper.to_json()})
        return frequency

    def cut(self, control: int, to: float) -> None:
        """Cut the foot (0) or a hole to a size on paper; the truth is a little off, but never grows back."""
        sizes = controls_of(self.paper)
        true = sizes[control] + self.errors[control]
        sizes[control] = to
        self.paper = with_controls(self.paper, sizes)
        error = self.cut_sd * self.rng.standard_normal()
        lowest = true - to
        self.errors[control] = min(error, lowest) if control == 0 else max(error, lowest)
        self.cuts += 1

    def document(self, **more: Any) -> dict[str, Any]:
        """What `advise` is asked."""
        pairs = zip(self.task.fingerings, self.task.targets, strict=True)
        return {
            "instrument": self.paper.to_json(),
            "air": self.task.air.to_json(),
            "targets": [{"fingering": f, "frequency": float(hz)} for f, hz in pairs],
            "readings": self.readings,
            **more,
        }


def by_advice(bench: Bench, limit: int = 120, trace: bool = False, **more: Any) -> str:
    """Work as advised until done; returns the last action."""
    for _ in range(limit):
        answer = advise(bench.document(**more))
        step = answer["next"]
        if trace:
            print(step["action"], step["fingering"], step["from"], step["to"], step["expected_cents"], step["sd_cents"],
                  step["risk_sharp"], "|", step["why"])  # fmt: skip
        if step["action"] == "measure":
            bench.read(step["fingering"])
        elif step["action"] == "open hole":
            bench.cut(step["hole"], step["to"])
        elif step["action"] == "shorten foot":
            bench.cut(0, step["to"])
        else:
            return str(step["action"])
    return "limit"


def by_habit(bench: Bench, hole_step: float = 0.2, foot_step: float = 1.0, limit: int = 400) -> str:
    """The plain habit: from the foot up, cut a little and play until the meter no longer shows flat, then the next."""
    from acoustics.tuning.aims import owners

    owner = owners(bench.task.fingerings, len(bench.paper.holes))
    for control in [0, *range(len(bench.paper.holes), 0, -1)]:
        fingering = bench.task.fingerings[owner[control]]
        target = bench.task.targets[owner[control]]
        for _ in range(limit):
            shown = CENTS * np.log(bench.read(fingering) / target)
            if shown > -2.5:
                break
            size = controls_of(bench.paper)[control]
            bench.cut(control, size - foot_step if control == 0 else size + hole_step)
    return "done"


def finished(bench: Bench, name: str, family: str) -> dict[str, Any]:
    """A finished flute as learning takes it: every note read once more at the end."""
    for fingering in bench.task.fingerings:
        bench.read(fingering)
    return {
        "name": name,
        "family": family,
        "instrument": bench.paper.to_json(),
        "air": bench.task.air.to_json(),
        "readings": bench.readings,
    }


def reachable(bench: Bench, tolerance: float = 5.0) -> bool:
    """Whether someone who knew the truth could still bring every note within the tolerance from where it starts."""
    names = zip(NAMES, bench.corrections, strict=True)
    known = {
        "mean": {name: float(value) for name, value in names},
        "covariance": np.diag([1e-8, 1e-10, 1e-10, 1e-6]).tolist(),
        "note_sd": 0.0,
    }
    request = AdviceRequest.from_json(bench.document(shop=known))
    belief, start = believe(replace(request, readings=()))
    found = look_ahead(request.job, belief, start)
    own = list(found.control)
    return bool(np.all(np.abs(found.ends[own]) <= tolerance))


@dataclass(frozen=True)
class Outcome:
    """How one flute ended: cents of every note, cuts, readings, last action."""

    cents: np.ndarray
    cuts: int
    readings: int
    last: str


def outcome(bench: Bench, last: str) -> Outcome:
    return Outcome(bench.cents(), bench.cuts, len(bench.readings), last)


def summary(outcomes: Sequence[Outcome], tolerance: float = 5.0) -> dict[str, float]:
    """Shares in percent and means."""
    cents = np.array([o.cents for o in outcomes])
    return {
        "flutes": len(outcomes),
        "too sharp %": 100.0 * float(np.mean(np.any(cents > tolerance, axis=1))),
        "notes within %": 100.0 * float(np.mean(np.abs(cents) <= tolerance)),
        "flutes within %": 100.0 * float(np.mean(np.all(np.abs(cents) <= tolerance, axis=1))),
        "mean cents": float(cents.mean()),
        "sd cents": float(cents.std()),
        "cuts": float(np.mean([o.cuts for o in outcomes])),
        "readings": float(np.mean([o.readings for o in outcomes])),
        "not done %": 100.0 * float(np.mean([o.last != "done" for o in outcomes])),
    }
