"""Rows of finished work, as the shop's rules write them, many at a time."""

from datetime import datetime, timedelta
from random import Random
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, select

from seed_demo.history_plan import Flute, Taken
from webapp.models import (
    Adhesive,
    Blank,
    BlankStatus,
    BlankStep,
    Defect,
    DefectChoice,
    DefectDecision,
    Event,
    GluedBlank,
    GlueUp,
    MovementReason,
    Order,
    OrderStatus,
    Outcome,
    Pattern,
    PatternRevision,
    Reading,
    Reservation,
    Shop,
    Species,
    Stage,
    StepKind,
    StepRecord,
    StepState,
    StockItem,
    StockKind,
    StockMovement,
    at,
)
from webapp.shop.bench import readings
from webapp.shop.learning.start_sizes import Start, start_of
from webapp.shop.orders import customers, rules as orders
from webapp.shop.orders.forms import TakeOrder
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.people.accounts import Who
from webapp.shop.production.opening import HALVES_PER_BLANK
from webapp.shop.routings import rules as routings
from webapp.shop.routings.built_in import steps_for
from webapp.shop.settings import air
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import Receive
from webapp.shop.units import pitches

# What blanks were given up for: the causes that it was put down to in turn, and what was said of it.
WHY = (
    (("crack",), "A crack opened from the plug to the window"),
    (("over-cut", "tear-out", "tear-out"), "Tear-out reached the bore at the second hole"),
)
UNSAID = 6  # of so many blanks that were given up, for one nobody wrote down why
INCH = 25.4
NOTES = (
    "Grain runs out near the foot: planed from the other end.",
    "Went slowly, the wood is denser than the last lot.",
    "A second pass with the finer paper.",
    "Sings already.",
)
BY_EAR = (StepKind.FUNDAMENTAL, StepKind.READINGS)
STEPS = SQLModel.metadata.tables["blank_step"]
Row = dict[str, Any]


class Rows:
    """Collects rows of each table and writes them in one go."""

    def __init__(
        self, session: Session, owner: Who, makers: list[Who], patterns: dict[str, PatternRevision], dice: Random
    ) -> None:
        self.session, self.owner, self.makers, self.patterns, self.dice = session, owner, makers, patterns, dice
        self.woods = {species.name: species for species in session.exec(select(Species))}
        self.lots = {
            item.species_id: item for item in session.exec(select(StockItem).where(StockItem.kind == StockKind.HALVES))
        }
        # What lies there now is for the work of these weeks: what the past used came in beside it.
        self.kept = {lot.id: stock.available(session, lot.id) for lot in self.lots.values() if lot.id is not None}
        self.adhesive = session.exec(select(Adhesive).order_by(col(Adhesive.id))).first()
        self.glue_ups: dict[datetime, GlueUp] = {}
        self.given_up = 0
        self.patterns_of = {name: self._pattern(revision) for name, revision in patterns.items()}
        self.goals = {n: readings.goals_of(patterns[n], self.patterns_of[n]) for n in patterns}
        self.versions = {n: routings.to_open_from(session, pattern) for n, pattern in self.patterns_of.items()}
        self._steps: dict[tuple[str, str], list[BlankStep]] = {}
        self._starts: dict[str, Start | None] = {}
        self._rows_of_steps: dict[tuple[str, str], list[Row]] = {}
        self.rows: dict[Any, list[Row]] = {}

    def _pattern(self, revision: PatternRevision) -> Pattern:
        found = self.session.get(Pattern, revision.pattern_id)
        assert found is not None
        return found

    def steps(self, pattern: str, wood: str) -> list[BlankStep]:
        """The steps that a blank of this pattern and wood gets from the shop's own rule."""
        if (pattern, wood) not in self._steps:
            revision = self.patterns[pattern]
            if pattern not in self._starts:
                self._starts[pattern] = start_of(self.session, self.patterns_of[pattern], revision)
            start = self._starts[pattern]
            sizes = start.sizes if start else None
            self._steps[pattern, wood] = steps_for(
                0,
                instrument_of(revision),
                self.woods[wood],
                [hole.first for hole in sizes.holes] if sizes else None,
                routings.steps_in(self.versions[pattern]),
                sizes,
            )
        return self._steps[pattern, wood]

    def _plain(self, pattern: str, wood: str) -> list[Row]:
        if (pattern, wood) not in self._rows_of_steps:
            steps = self.steps(pattern, wood)
            self._rows_of_steps[pattern, wood] = [one.model_dump(exclude={"id", "blank_id", "state"}) for one in steps]
        return self._rows_of_steps[pattern, wood]

    def order(self, taken: Taken, flutes: list[Flute], moment: datetime, price: int) -> None:
        """An order through the shop's own rule, and what became of its flutes."""
        known = customers.named(self.session, taken.customer)
        wood = self.woods[taken.wood]
        pattern = self.patterns_of[taken.pattern]
        due = (moment + timedelta(days=taken.due - taken.day)).date()
        asked = TakeOrder.model_validate(
            {
                "customer_name": taken.customer,
                "customer_id": known[0].id if known else "new",
                "contact": f"{taken.customer.split()[0].lower()}@post.invalid",
                "status": OrderStatus.CONFIRMED,
                "key": pattern.key,
                "scale": pattern.scale,
                "holes": pattern.holes,
                "species_id": wood.id,
                "price": f"{price + self.dice.choice((0, 0, 10, 25))}.00",
                "due_on": due,
                "count": taken.flutes,
            }
        )
        lot = self.lots[wood.id]
        assert lot.id is not None
        with at(moment):
            order = orders.take_order(self.session, self.owner, asked)
            if stock.available(self.session, lot.id) < self.kept[lot.id] + 2 * len(flutes):
                more = Receive(quantity=24, note="Milled from the loft, settled for three weeks")
                stock.receive(self.session, self.owner, lot.id, more)
        ids = [flute.id for flute in orders.flutes_of(self.session, order)]
        first = self._serials(len(flutes))
        blanks = []
        for n, flute in enumerate(sorted(flutes, key=lambda flute: flute.opened)):
            blanks.append(self._blank(order, flute, ids[flute.place], first + n, lot.id))
        self.session.add_all(blanks)
        for ordered in orders.flutes_of(self.session, order):
            ordered.revision_id = self.patterns[taken.pattern].id
            self.session.add(ordered)
        self.session.flush()
        for blank, flute in zip(blanks, sorted(flutes, key=lambda flute: flute.opened), strict=True):
            self._way(order, blank, flute)
        opened = ", ".join(blank.serial for blank, flute in zip(blanks, flutes, strict=True) if flute.place >= 0)
        words = f"{'Blank' if len(blanks) == 1 else 'Blanks'} {opened} opened"
        self._event("order", order.id, words, blanks[0].opened_at, self.owner.id)
        self._hand_over(order, blanks)

    def write(self) -> None:
        """Insert what was collected, the events in the order in which they happened."""
        self.rows.get(Event, []).sort(key=lambda row: row["at"])
        for table, rows in self.rows.items():
            self.session.execute(sa.insert(table.__table__), rows)
        self.rows = {}
        self.session.commit()

    def _add(self, table: Any, **values: Any) -> None:
        self.rows.setdefault(table, []).append(values)

    def _event(
        self, subject: str, subject_id: int | None, what: str, moment: datetime, by: int | None, why: str = ""
    ) -> None:
        self._add(Event, subject=subject, subject_id=subject_id, what=what, why=why, at=moment, by=by)

    def _serials(self, count: int) -> int:
        shop = self.session.get(Shop, 1)
        assert shop is not None
        first = shop.next_serial
        shop.next_serial += count
        self.session.add(shop)
        return first

    def _blank(self, order: Order, flute: Flute, flute_id: int | None, serial: int, lot_id: int) -> Blank:
        shop = self.session.get(Shop, 1)
        revision = self.patterns[flute.pattern]
        wood = self.woods[flute.wood]
        assert shop is not None and revision.id is not None and wood.id is not None
        lost = flute.done is None
        steps = self.steps(flute.pattern, flute.wood)
        done = sum(1 for index, *_ in flute.made if index >= 0)
        return Blank(
            serial=f"{shop.serial_prefix}{serial:04d}",
            ordered_flute_id=flute_id,
            revision_id=revision.id,
            species_id=wood.id,
            item_id=lot_id,
            key=self.patterns_of[flute.pattern].key,
            status=BlankStatus.FIREWOOD if lost else BlankStatus.HANDED_OVER,
            stage=steps[min(done, len(steps) - 1)].stage if lost else Stage.FINISHING,
            due_on=order.due_on,
            opened_at=flute.opened,
            opened_by=self.owner.id,
            routing_version_id=self.versions[flute.pattern].id,
            finished_at=flute.done,
            given_up_at=max(moment for *_, moment in flute.made) if lost else None,
            # Settled when it was opened, at every step, three times by the glue-up, and at its end.
            version=2 + done + 3,
        )

    def _way(self, order: Order, blank: Blank, flute: Flute) -> None:
        """The blank's steps, with everything that was written down on the way."""
        revision = self.patterns[flute.pattern]
        pattern = self.patterns_of[flute.pattern]
        assert blank.id is not None and order.id is not None
        words = f"Opened from {pattern.name}, revision {revision.number} for order {order.number}"
        self._event("blank", blank.id, words, flute.opened, self.owner.id)
        steps = self.steps(flute.pattern, flute.wood)
        passed = {index for index, *_ in flute.made}
        copies = [
            step | {"blank_id": blank.id, "state": StepState.PASSED if n in passed else StepState.OPEN}
            for n, step in enumerate(self._plain(flute.pattern, flute.wood))
        ]
        self.session.execute(sa.insert(STEPS), copies)
        mine = sa.select(STEPS.c.id).where(STEPS.c.blank_id == blank.id).order_by(STEPS.c.position)
        ids = list(self.session.execute(mine).scalars())
        before = Stage.BORING
        used = False
        for index, person, moment in sorted(flute.made, key=lambda one: one[2]):
            by = self.makers[person].id
            if index < 0:
                self._give_up(blank, moment, by)
                continue
            step = steps[index]
            if step.kind is StepKind.GLUE_UP:
                self._glue(blank, flute, by)
            self._record(blank, step, ids[index], by, moment)
            if not used:
                used = True
                self._take_halves(blank, flute.opened, moment, by)
            after = steps[index + 1].stage if index + 1 < len(steps) else None
            if after is not None and after is not before and not step.while_waiting:
                self._event("blank", blank.id, f"Moved on to {after}", moment, by)
                before = after
        if flute.done:
            self._event("blank", blank.id, "Finished", flute.done, self.makers[flute.made[-1][1]].id)

    def _give_up(self, blank: Blank, moment: datetime, by: int | None) -> None:
        """As recording the defect and deciding about it leaves it."""
        causes, why = self.dice.choice(WHY)
        self._event("blank", blank.id, "Given up: firewood", moment, by, why)
        number, self.given_up = self.given_up, self.given_up + 1
        if number % UNSAID == UNSAID - 1:
            return
        start = (2 + number % 11) * INCH
        assert blank.id is not None and by is not None
        found = Defect(
            blank_id=blank.id,
            cause=causes[number % len(causes)],
            grave=True,
            stage=Stage.FLUE,
            start=start,
            end=start + INCH / 2,
            what=why,
            is_open=False,
            at=moment,
            by=by,
        )
        self.session.add(found)
        self.session.flush()
        decided = {"decided": DefectChoice.FIREWOOD, "why": "Too far gone"}
        self._add(DefectDecision, defect_id=found.id, at=moment, by=by, **decided)

    def _take_halves(self, blank: Blank, opened: datetime, moment: datetime, by: int) -> None:
        self._add(
            Reservation,
            item_id=blank.item_id,
            blank_id=blank.id,
            quantity=HALVES_PER_BLANK,
            at=opened,
            by=self.owner.id,
            ended_at=moment,
            ended_why="used",
        )
        self._add(
            StockMovement,
            item_id=blank.item_id,
            quantity=-HALVES_PER_BLANK,
            reason=MovementReason.USED,
            blank_id=blank.id,
            note="",
            at=moment,
            by=by,
        )

    def _glue(self, blank: Blank, flute: Flute, by: int) -> None:
        assert flute.glued and self.adhesive and self.adhesive.id is not None
        spread, clamped, out = flute.glued
        if spread not in self.glue_ups:
            made = GlueUp(
                adhesive_id=self.adhesive.id,
                lot="opened last winter",
                temperature=round(self.dice.gauss(19.5, 1.0), 1),
                open_minutes=self.adhesive.open_minutes,
                clamp_minutes=self.adhesive.clamp_minutes,
                cure_minutes=self.adhesive.cure_minutes,
                spread_at=spread,
                clamped_at=clamped,
                out_at=clamped + timedelta(minutes=self.adhesive.clamp_minutes),
                cured_at=clamped + timedelta(minutes=self.adhesive.cure_minutes),
                by=by,
            )
            self.session.add(made)
            self.session.flush()
            self.glue_ups[spread] = made
        glue_up = self.glue_ups[spread]
        self._add(
            GluedBlank,
            glue_up_id=glue_up.id,
            blank_id=blank.id,
            added_at=spread,
            taken_out_at=out,
            taken_out_by=by,
            why_early="",
        )
        self._event("blank", blank.id, f"Glue-up {glue_up.id} begun with {self.adhesive.name}", spread, by)

    def _record(self, blank: Blank, step: BlankStep, step_id: int, by: int, moment: datetime) -> None:
        value = None
        if step.kind is StepKind.GAUGE and step.nominal is not None:
            value = self._gauged(blank, step, step_id, by, moment)
        elif step.kind in BY_EAR:
            value = self._read(blank, step, by, moment)
        note = self.dice.choice(NOTES) if self.dice.random() < 0.03 else ""
        if step.kind is StepKind.CURE:
            note = "Its time was over."
        self._step(step_id, blank, Outcome.PASSED, by, moment, value, note=note)

    def _step(
        self,
        step_id: int,
        blank: Blank,
        outcome: Outcome,
        by: int,
        moment: datetime,
        value: float | None = None,
        why: str = "",
        note: str = "",
    ) -> None:
        self._add(
            StepRecord,
            step_id=step_id,
            blank_id=blank.id,
            outcome=outcome,
            value=value,
            why=why,
            note=note,
            at=moment,
            by=by,
        )

    def _gauged(self, blank: Blank, step: BlankStep, step_id: int, by: int, moment: datetime) -> float:
        assert step.nominal is not None
        low = step.low if step.low is not None else step.nominal
        high = step.high if step.high is not None else step.nominal
        value = self.dice.gauss((low + high) / 4 + step.nominal / 2, (high - low) / 8)
        return round(min(high, max(low, value)), 2)

    def _read(self, blank: Blank, step: BlankStep, by: int, moment: datetime) -> float:
        """Read the notes that the step asks for, some twice; the cents that decide: those farthest off."""
        shop = self.session.get(Shop, 1)
        pattern = self.session.get(PatternRevision, blank.revision_id)
        assert shop is not None and pattern is not None
        name = next(name for name, revision in self.patterns.items() if revision.id == blank.revision_id)
        goals = self.goals[name][:1] if step.kind is StepKind.FUNDAMENTAL else self.goals[name]
        aim = readings.aim(shop, step.stage)
        temperature = round(self.dice.gauss(20.0, 1.2), 1)
        humidity = round(min(70.0, max(30.0, self.dice.gauss(48.0, 5.0)))) / 100
        correction = air.correction(shop, temperature, humidity, True)
        plan = []
        for goal in goals:
            if step.code == "tuned" or self.dice.random() < 0.2:
                plan.append((goal, self.dice.gauss(-11.0, 4.0)))
            plan.append((goal, self.dice.uniform(-2.5, 2.5)))
        worst = 0.0
        for n, (goal, off) in enumerate(plan):
            shown = aim + off - correction
            frequency = round(goal.frequency * 2 ** (shown / 1200), 2)
            cents = pitches.between(frequency, goal.frequency) + correction
            last = all(goal is not other for other, _ in plan[n + 1 :])
            if last and abs(cents - aim) > abs(worst - aim if worst else 0.0):
                worst = cents
            self._add(
                Reading,
                blank_id=blank.id,
                stage=step.stage,
                fingering=goal.fingering,
                note_name=goal.note,
                typed=f"{frequency:.2f}",
                frequency=frequency,
                target=goal.frequency,
                temperature=temperature,
                humidity=humidity,
                warmed_up=True,
                cents=cents,
                note="",
                at=moment - timedelta(minutes=1.5 * (len(plan) - n)),
                by=by,
                taken_back=False,
            )
        return worst

    def _hand_over(self, order: Order, blanks: list[Blank]) -> None:
        done = [blank for blank in blanks if blank.finished_at]
        last = max(blank.finished_at for blank in done if blank.finished_at)
        moment = last + timedelta(days=self.dice.randint(1, 5), hours=1)
        self._event("order", order.id, "Ready: every flute is finished", last, None)
        for blank in done:
            self._event("blank", blank.id, f"Handed over with order {order.number}", moment, self.owner.id)
        self._event("order", order.id, "Handed over", moment, self.owner.id)
        order.status, order.handed_over_at = OrderStatus.HANDED_OVER, moment
        order.version += 3
        self.session.add(order)
