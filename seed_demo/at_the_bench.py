"""Reading and cutting at the demo's bench: round after round from the lowest note up, as careful hands do it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from seed_demo.tuning import FINE, LAST, LIGHT, ROUGH, Flute, later, next_size
from webapp.models import Blank, BlankStep, Stage, StepKind, at
from webapp.shop.base.errors import Doubtful
from webapp.shop.bench import cuts, readings
from webapp.shop.bench.cuts import Sizes
from webapp.shop.settings import air

if TYPE_CHECKING:
    from seed_demo.work import Bench

ROUNDS = ((ROUGH, 1), (FINE, 1), (LAST, 2))
"""Where each round leaves a note, and how often it is cut in it at most."""
LIGHTEST = (LIGHT, 1)  # after the finish
DOUBTED = 3.5  # cents above it: nobody believes that at once
SURELY = 0.8  # share of the tolerance within which nobody doubts that it is in tune
EASED = 2.0  # cents either side to which easing a hole's edge brings a note
CLOSE = 2.5  # cents from where it should be: close enough to leave it


def read(bench: Bench, blank: Blank, step: BlankStep, moment: datetime, notes: int = 99) -> datetime:
    """Read what a step asks for and cut until it stands; of the first round only so many `notes`, where told."""
    flute = _flute(bench, blank)
    lowest = next(iter(flute.targets))
    if step.kind is StepKind.FUNDAMENTAL:
        aim = readings.aim(bench.shop, Stage.VOICING)
        moment = _note(bench, blank, flute, lowest, (aim, 6), moment)
        return _settle(bench, blank, flute, [lowest], aim, moment)
    fingerings = list(flute.targets)[:notes]
    rounds = ROUNDS if notes > len(flute.targets) else ROUNDS[:1]
    for way in rounds if step.stage is Stage.TUNING else (LIGHTEST,):
        for fingering in fingerings:
            if moment >= bench.today:
                return moment
            moment = _note(bench, blank, flute, fingering, way, moment)
    return moment if rounds == ROUNDS[:1] else _settle(bench, blank, flute, fingerings, 0.0, moment)


def _settle(bench: Bench, blank: Blank, flute: Flute, fingerings: list[str], aim: float, moment: datetime) -> datetime:
    """Read again what still stands out: one breath too hard, or a note that the edge of its hole brings right."""
    last = readings.latest(readings.of_blank(bench.session, blank.id or 0), blank.stage)
    for fingering in fingerings:
        if moment >= bench.today:
            return moment
        if fingering not in last or abs(last[fingering].cents - aim) > bench.shop.tolerance_cents * SURELY:
            off = _stands(bench, blank, flute, fingering) - aim
            flute.offs[fingering] -= off - max(-EASED, min(EASED, off))
            _listen(bench, blank, flute, fingering, aim + max(-EASED, min(EASED, off)), moment)
            moment = later(moment, bench.dice)
    return moment


def _note(
    bench: Bench, blank: Blank, flute: Flute, fingering: str, way: tuple[float, int], moment: datetime
) -> datetime:
    aim, times = way
    for left in range(times, -1, -1):
        if moment >= bench.today:
            return moment
        heard = flute.heard(_stands(bench, blank, flute, fingering))
        _listen(bench, blank, flute, fingering, heard, moment)
        moment = later(moment, bench.dice)
        if heard - aim > DOUBTED:
            continue  # one breath too hard: it is played again
        size = next_size(flute, _sizes(bench, blank), fingering, aim, heard)
        if size is None or heard > aim - CLOSE or not left or moment >= bench.today:
            return moment
        with at(bench.must_be_past(moment)):
            asked = cuts.RecordCut(control=fingering.find("o") + 1, size=size)
            who = bench.hand()
            try:
                made = cuts.record(bench.session, who, blank.id or 0, asked)
            except Doubtful as asks:
                sure = asked.model_copy(update={"sure": asks.sure})
                made = cuts.record(bench.session, who, blank.id or 0, sure)
        bench.sizes[made.blank_id] = cuts.after(_sizes(bench, blank), [made])
        flute.cut(asked.control)
        moment = later(moment, bench.dice)
        if aim == ROUGH:
            return moment  # it is read again in the next round
    return moment


def _stands(bench: Bench, blank: Blank, flute: Flute, fingering: str) -> float:
    sizes = _sizes(bench, blank)
    if blank.stage is Stage.VOICING:
        return flute.square(sizes[0] or 0.0)
    return flute.cents(sizes, fingering, coated=blank.stage is Stage.FINISHING)


def _sizes(bench: Bench, blank: Blank) -> Sizes:
    assert blank.id is not None
    if blank.id not in bench.sizes:
        made = cuts.of_blank(bench.session, blank.id)
        bench.sizes[blank.id] = cuts.after(cuts.at_first(bench.session, blank), made)
    return bench.sizes[blank.id]


def _flute(bench: Bench, blank: Blank) -> Flute:
    assert blank.id is not None
    if blank.id not in bench.flutes:
        goals = {goal.fingering: goal.frequency for goal in readings.goals_for(bench.session, blank)}
        medium = air.played(bench.shop)
        bench.flutes[blank.id] = Flute(cuts.designed(bench.session, blank), medium, goals, bench.dice)
    return bench.flutes[blank.id]


def _listen(bench: Bench, blank: Blank, flute: Flute, fingering: str, played: float, moment: datetime) -> None:
    """Write down what the meter would show in today's room for a note that stands so many cents off in played air."""
    temperature = round(bench.dice.gauss(20.0, 1.2), 1)
    humidity = round(min(70.0, max(30.0, bench.dice.gauss(48.0, 5.0))))
    shown = played - air.correction(bench.shop, temperature, humidity / 100, warmed_up=True)
    asked = readings.RecordReading(
        fingering=fingering,
        pitch=f"{flute.targets[fingering] * 2 ** (shown / 1200):.2f}",
        temperature=temperature,
        humidity=humidity,
        warmed_up=True,
    )
    with at(bench.must_be_past(moment)):
        who = bench.hand()
        try:
            readings.record(bench.session, who, blank.id or 0, asked)
        except Doubtful as asks:
            readings.record(bench.session, who, blank.id or 0, asked.model_copy(update={"sure": asks.sure}))
