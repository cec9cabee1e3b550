"""The queue at a moment: what is left of every flute that was begun or promised by then, the first due first."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from webapp.models import OrderStatus, Stage, StepKind
from webapp.shop.scheduling.past_entries import BlankSeen, Entries, OrderSeen, StepSeen
from webapp.shop.scheduling.past_work import STAGES, Learned
from webapp.shop.scheduling.queue_parts import Job, Piece

SHELF: Final = "shelf"
NEW: Final = "new"
LATEST: Final = 40
COAT: Final = 12 * 60.0
"""Minutes a coat dries where its step does not say."""


@dataclass(frozen=True, slots=True)
class Waits:
    """The usual times in clamps and until the glue has cured [hours]."""

    clamps: float = 0.75
    cure: float = 24.0


@dataclass(frozen=True, slots=True)
class Queue:
    """Jobs in the order in which they get the bench; `promised` of them belong to orders, the rest to the shelf."""

    jobs: tuple[Job, ...]
    promised: int
    whole: tuple[Piece, ...]

    def with_new(self, count: int, first: bool = False) -> list[Job]:
        """The queue with so many flutes more, behind all that is promised, or before everything."""
        fresh = [Job(NEW, self.whole, self.whole) for _ in range(count)]
        at = 0 if first else self.promised
        return [*self.jobs[:at], *fresh, *self.jobs[at:]]


def order_key(number: int) -> str:
    return f"order {number}"


def queue(entries: Entries, learned: Learned, waits: Waits, moment: datetime, without: int | None = None) -> Queue:
    """The queue as it stood at `moment`; `without`: the id of an order to leave out."""
    whole = pieces(_usual(entries), {}, learned, waits)
    of_flute: dict[int, list[BlankSeen]] = {}
    for blank in entries.blanks.values():
        if blank.opened <= moment and blank.flute_id is not None:
            of_flute.setdefault(blank.flute_id, []).append(blank)
    ranked: list[tuple[float, float, int, Job]] = []
    used: set[int] = set()
    for order in entries.orders.values():
        if order.id == without or _apart(order, moment, entries.orders.get(without or 0)):
            continue
        for place, job in enumerate(_of_order(order, of_flute, entries, learned, waits, moment, whole, used)):
            ranked.append((order.due, order.taken.timestamp(), order.number * 100 + place, job))
    ranked.sort(key=lambda one: one[:3])
    promised = [job for *_, job in ranked]
    shelf = [
        _job(SHELF, blank, entries, learned, waits, moment, whole)
        for blank in sorted(entries.blanks.values(), key=lambda b: b.opened)
        if blank.id not in used and _open(blank, moment) and not _of(entries, blank, without)
    ]
    return Queue((*promised, *shelf), len(promised), whole)


def _apart(order: OrderSeen, moment: datetime, than: OrderSeen | None) -> bool:
    """Whether the order plays no part yet, or no more. Of when it was taken only the day is known, then its number."""
    if order.status is OrderStatus.WITHDRAWN or (order.handed is not None and order.handed <= moment):
        return True
    if order.taken.date() == moment.date():
        return than is not None and order.number > than.number
    return order.taken > moment


def _of(entries: Entries, blank: BlankSeen, order_id: int | None) -> bool:
    order = entries.orders.get(order_id) if order_id is not None else None
    return order is not None and blank.flute_id in order.flutes


def _of_order(
    order: OrderSeen,
    of_flute: dict[int, list[BlankSeen]],
    entries: Entries,
    learned: Learned,
    waits: Waits,
    moment: datetime,
    whole: tuple[Piece, ...],
    used: set[int],
) -> list[Job]:
    """One job for each of its flutes that is not finished: its blank that has come farthest, or a fresh one."""
    jobs = []
    for blank_id, order_id in entries.repairs.items():
        if order_id == order.id:
            used.add(blank_id)
            jobs.append(_job(order_key(order.number), entries.blanks[blank_id], entries, learned, waits, moment, ()))
    for flute_id in order.flutes:
        blanks = of_flute.get(flute_id, [])
        if any(blank.finished and blank.finished <= moment for blank in blanks):
            continue
        at_work = [blank for blank in blanks if _open(blank, moment)]
        best = max(at_work, key=lambda b: sum(at <= moment for at in b.passed.values()), default=None)
        if best is None:
            jobs.append(Job(order_key(order.number), whole, whole))
        else:
            used.add(best.id)
            jobs.append(_job(order_key(order.number), best, entries, learned, waits, moment, whole))
    return jobs


def _open(blank: BlankSeen, moment: datetime) -> bool:
    return blank.opened <= moment and (blank.ended is None or blank.ended > moment)


def _job(
    key: str,
    blank: BlankSeen,
    entries: Entries,
    learned: Learned,
    waits: Waits,
    moment: datetime,
    whole: tuple[Piece, ...],
) -> Job:
    passed = {step_id: at for step_id, at in blank.passed.items() if at <= moment}
    if _in_clamps(blank, entries, moment):
        passed |= {step.id: moment for step in blank.steps if step.kind is StepKind.GLUE_UP}
    until = _waits_until(blank, passed, entries, moment)
    midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    ready = max(moment, until or moment)
    left = pieces(blank.steps, passed, learned, waits)
    return Job(key, left, whole, (ready - midnight).total_seconds() / 86400)


def _in_clamps(blank: BlankSeen, entries: Entries, moment: datetime) -> bool:
    glued = [one for one in entries.glued.get(blank.id, []) if one.added <= moment]
    return bool(glued) and (glued[-1].taken_out is None or glued[-1].taken_out > moment)


def _waits_until(blank: BlankSeen, passed: dict[int, datetime], entries: Entries, moment: datetime) -> datetime | None:
    """When the wait that the blank is in is over, so far as the entries tell."""
    glued = [one for one in entries.glued.get(blank.id, []) if one.added <= moment]
    glue_passed = any(s.kind is StepKind.GLUE_UP and s.id in passed for s in blank.steps)
    if glued and glue_passed and any(s.kind is StepKind.CURE and s.id not in passed for s in blank.steps):
        return glued[-1].cured
    done = [step for step in blank.steps if step.id in passed]
    last = max(done, key=lambda step: step.position, default=None)
    if last is not None and last.kind is StepKind.COAT:
        wait = (last.nominal or COAT) * 60
        return datetime.fromtimestamp(passed[last.id].timestamp() + wait, moment.tzinfo)
    return None


def pieces(steps: list[StepSeen], passed: dict[int, datetime], learned: Learned, waits: Waits) -> tuple[Piece, ...]:
    """What is left of a blank: work until the next wait, glue-ups apart, since they need a place in the clamps."""
    codes: dict[Stage, list[str]] = {}
    for step in steps:
        if step.kind is not StepKind.CURE:
            codes.setdefault(step.stage, []).append(step.code)
    found: list[Piece] = []
    hours = [0.0] * len(STAGES)
    gluing = False
    for step in steps:
        if step.id in passed or step.kind is StepKind.CURE:
            continue
        took = learned.hours(step.stage, step.code, codes[step.stage])
        if step.kind is StepKind.GLUE_UP:
            if any(hours):
                found.append(Piece(tuple(hours)))
            hours = [0.0] * len(STAGES)
            hours[STAGES.index(step.stage)] += took
            found.append(Piece(tuple(hours), max(waits.clamps, waits.cure), True))
            hours = [0.0] * len(STAGES)
            gluing = True
            continue
        if gluing and step.while_waiting:
            glue = found[-1]
            more = list(glue.hours)
            more[STAGES.index(step.stage)] += took
            found[-1] = Piece(tuple(more), glue.wait, True)
            continue
        gluing = False
        hours[STAGES.index(step.stage)] += took
        if step.kind is StepKind.COAT:
            found.append(Piece(tuple(hours), (step.nominal or COAT) / 60))
            hours = [0.0] * len(STAGES)
    if any(hours):
        found.append(Piece(tuple(hours)))
    return tuple(found)


def _usual(entries: Entries) -> list[StepSeen]:
    """The steps that most of the blanks opened last go through. Without any: one step for each stage."""
    whole = [blank for blank in entries.blanks.values() if len({step.stage for step in blank.steps}) == len(STAGES)]
    latest = sorted(whole, key=lambda blank: (blank.opened, blank.id))[-LATEST:]
    if latest:
        ways = [tuple((step.stage, step.kind) for step in blank.steps if step.repair is None) for blank in latest]
        usual = max(ways, key=lambda way: (ways.count(way), ways.index(way)))
        blank = latest[len(ways) - 1 - ways[::-1].index(usual)]
        return [step for step in blank.steps if step.repair is None]
    made = []
    for n, stage in enumerate(STAGES):
        if stage is Stage.GLUING:
            made.append(StepSeen(-10 * n - 1, stage, 10 * n, "glue-up", StepKind.GLUE_UP, None, False, None))
            made.append(StepSeen(-10 * n - 2, stage, 10 * n + 1, "cure", StepKind.CURE, None, False, None))
        if stage is Stage.FINISHING:
            made += [
                StepSeen(-10 * n - 3 - c, stage, 10 * n + c, f"coat-{c}", StepKind.COAT, COAT, False, None)
                for c in range(3)
            ]
        made.append(StepSeen(-10 * n - 9, stage, 10 * n + 9, stage.value, StepKind.WORK, None, False, None))
    return made
