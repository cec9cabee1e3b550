"""Flutes with errors that have no name, tuned by advice, by habit, by patience, and by somebody who knows the truth.

Run: OMP_NUM_THREADS=1 python -m tests.load.unnamed_simulation [FLUTES] [ROWS]

ROWS are letters: u the unnamed errors of `unnamed_errors`, w the same with readings that do not name their sitting, s
with two errors more that no constant was chosen by, n the named errors of `tuning_simulation`; k, p, h: who knows,
who is patient, and the plain habit, on the flutes of u. All where not given.

The advice is asked through its JSON; between two keys' worth of exact resonances it calculates with a fit to the
engine's own network (`quick_model`, good to 0.1 cents), as do the flutes. Constants were chosen on seeds from 10,000 to
29,999; here the first is 50,000. Below each row of advice: what it stated against what was seen, for the chance that a
note ends too sharp, that it ends out of tune, that a cut leaves its note too sharp, and that all notes are in tune.
"""

from __future__ import annotations

import itertools
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from acoustics.belief.sounding import first_resonances
from acoustics.commands import advise
from acoustics.model.implicit import CENTS
from acoustics.tuning.aims import controls_of, owners, with_controls
from tests.load.quick_model import Quick, use
from tests.load.tuning_bench import Bench, Outcome, Task, by_habit, outcome
from tests.load.unnamed_errors import Workshop, by_knowing, by_patience

KEYS = ("D4", "C5")
FIRST = 50_000
LIMIT = 150
"""Steps after which advice is stopped."""
MANY = 60
_EDGES = (0.0, 0.003, 0.01, 0.03, 0.1, 0.2, 0.4, 0.7, 1.01)


@dataclass
class Stated:
    """What was said of chances, and what came true."""

    said: list[float] = field(default_factory=list)
    seen: list[bool] = field(default_factory=list)

    def add(self, said: float, seen: bool) -> None:
        self.said.append(said)
        self.seen.append(bool(seen))

    def table(self) -> str:
        said, seen = np.array(self.said), np.array(self.seen, dtype=float)
        cells = []
        for low, high in itertools.pairwise(_EDGES):
            here = (said >= low) & (said < high)
            if here.sum() >= 10:
                cells.append(f"{said[here].mean():.3f}:{seen[here].mean():.3f} ({here.sum()})")
        return "  ".join(cells)


@dataclass
class Told:
    """All that advice said of many flutes."""

    sharp: Stated = field(default_factory=Stated)
    off: Stated = field(default_factory=Stated)
    cut: Stated = field(default_factory=Stated)
    all_within: Stated = field(default_factory=Stated)
    z: list[float] = field(default_factory=list)
    ms: list[float] = field(default_factory=list)


def by_advice(bench: Bench, told: Told) -> str:
    """Work as advised to the end; what was stated goes into `told`."""
    risks: list[tuple[float, int]] = []
    for _ in range(LIMIT):
        began = time.process_time()
        answer = advise(bench.document())
        told.ms.append(1e3 * (time.process_time() - began))
        step = answer["next"]
        if step["action"] == "measure":
            bench.read(step["fingering"])
        elif step["to"] is not None:
            risks.append((step["risk_sharp"], bench.task.fingerings.index(step["fingering"])))
            bench.cut(step["hole"] or 0, step["to"])
        else:
            break
    ends = bench.cents()
    for note in answer["notes"]:
        end = float(ends[bench.task.fingerings.index(note["fingering"])])
        told.sharp.add(note["chance_sharp"], end > 5.0)
        told.off.add(1.0 - note["chance_within"], abs(end) > 5.0)
        told.z.append((end - note["finished_cents"]) / note["finished_sd_cents"])
    for risk, i in risks:
        told.cut.add(risk, bool(ends[i] > 5.0))
    if answer["chance_in_tune"] is not None:
        told.all_within.add(answer["chance_in_tune"], bool(np.all(np.abs(ends) <= 5.0)))
    return str(step["action"])


def quickened(bench: Bench, quick: Quick) -> Bench:
    """The same flute, its pitch by the fit: what its shape is off by is worked out exactly where it begins and where it
    ends, and goes with each note's own size in between."""
    task = bench.task
    first, last = controls_of(bench.paper), controls_of(task.flute)
    share, off, own = np.ones(len(first)), [np.zeros(len(task.fingerings))] * 2, {}
    if isinstance(bench, Workshop):
        assert bench.built is not None
        share = bench.built_share
        own = {note: control for control, note in owners(task.fingerings, len(task.flute.holes)).items()}

        def exact(flute: Any, sizes: np.ndarray) -> np.ndarray:
            made = with_controls(flute, sizes)
            w = first_resonances(made, task.air, task.fingerings, np.zeros(3), task.targets)
            return np.asarray(CENTS * np.log(w.real))

        off = [exact(bench.built, sizes * share) - exact(task.flute, sizes * share) for sizes in (first, last)]

    def cents(fingerings: Sequence[str] | None = None) -> np.ndarray:
        which = [task.fingerings.index(f) for f in fingerings or task.fingerings]
        sizes = controls_of(bench.paper) + bench.errors
        done = (sizes - first) / (last - first)
        part = np.array([done[own[note]] if note in own else 0.5 for note in range(len(task.fingerings))])
        found = quick.at(sizes * share, bench.corrections[:3])[0] + bench.corrections[3]
        found = found + off[0] + (off[1] - off[0]) * part
        if isinstance(bench, Workshop):
            found = found + bench.smooth + bench.edges
        return np.asarray(found[which])

    bench.cents = cents  # type: ignore[method-assign]
    return bench


def row(name: str, ends: Sequence[Outcome], more: str = "") -> None:
    cents = np.array([end.cents for end in ends])
    steps = np.array([end.cuts + end.readings for end in ends])
    figures = (
        100.0 * np.mean(np.abs(cents) <= 5.0),
        100.0 * np.mean(np.any(cents > 5.0, axis=1)),
        100.0 * np.mean(np.any(cents > 10.0, axis=1)),
        np.mean([end.cuts for end in ends]),
        np.mean([end.readings for end in ends]),
        100.0 * np.mean(steps > MANY),
        100.0 * np.mean([end.last != "done" for end in ends]),
    )
    print(f"{name:34}{len(ends):7d}" + "".join(f"{figure:10.1f}" for figure in figures) + more, flush=True)


def main(flutes: int, rows: str) -> None:
    """Print the table."""
    print("fitting the network ...", file=sys.stderr)
    quick = {key: Quick(Task.of(key)) for key in KEYS}
    columns = ("within %", "over 5 %", "over 10 %", "cuts", "readings", f"over {MANY} %", "not done %")
    print(f"{'':34}{'flutes':>7}" + "".join(f"{column:>10}" for column in columns) + "  z sd, ms")
    plain: dict[str, tuple[str, Callable[[Any], str]]] = {
        "k": ("knows the truth", by_knowing),
        "p": ("patient, three readings each", by_patience),
        "h": ("plain habit", by_habit),
    }
    kinds = {
        "u": ("advice, unnamed errors", {}),
        "w": ("advice, sittings not named", {"told": False}),
        "s": ("advice, two errors more", {"strange": True}),
        "n": ("advice, named errors alone", None),
    }
    for letter in rows:
        ends, told = [], Told()
        for i in range(flutes):
            fit = quick[KEYS[i % len(KEYS)]]
            use(fit)
            more = kinds[letter][1] if letter in kinds else {}
            bench: Bench = (
                Bench.drawn(fit.task, FIRST + i) if more is None else Workshop.of(fit.task, FIRST + i, **more)
            )
            quickened(bench, fit)
            ends.append(outcome(bench, by_advice(bench, told) if letter in kinds else plain[letter][1](bench)))
        if letter in plain:
            row(plain[letter][0], ends)
            continue
        row(
            kinds[letter][0],
            ends,
            f"  {np.std(told.z):.2f}, {np.median(told.ms):.0f} (p95 {np.percentile(told.ms, 95):.0f})",
        )
        for what, stated in (("sharp", told.sharp), ("off", told.off), ("cut", told.cut), ("all", told.all_within)):
            print(f"  {what:6} stated:seen (cases)  {stated.table()}", flush=True)


if __name__ == "__main__":
    given = sys.argv[1:]
    main(int(given[0]) if given else 200, given[1] if len(given) > 1 else "uwsnkph")
