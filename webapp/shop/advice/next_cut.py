"""The next cut for a blank at the bench, from its readings so far; or, in words, why there is no advice."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import lru_cache
from typing import Final

from sqlmodel import Session

from acoustics.belief.corrections import Finishing
from acoustics.belief.heard import Reading as Heard
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.tuning.advise import MAX_READINGS, AdviceRequest, advise
from acoustics.tuning.aims import Aim
from acoustics.tuning.answer import Answer, Left
from acoustics.tuning.next_step import Action
from acoustics.tuning.words import in_ten, played
from webapp.models import Blank, BlankStatus, Cut, Drill, PatternRevision, Reading, Shop, Stage
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.bench import as_built, cuts, readings
from webapp.shop.bench.as_built import Built
from webapp.shop.bench.readings import Goal
from webapp.shop.learning import corrections
from webapp.shop.learning.corrections import Known
from webapp.shop.settings import air, tools
from webapp.shop.units.keys import show_note

log = logging.getLogger("flutebench")

A_PAUSE: Final = timedelta(hours=1)  # after so long without a reading the flute is cold and the air another
KEPT: Final = 300  # answers, each a few kilobytes; those not asked for longest go first
SOMETHING, CLEAR = 0.05, 0.1  # mm: a drill that takes less is none; one that comes nearer cuts wider than it says


@dataclass(frozen=True, slots=True)
class Advised:
    """What to do next and why; `flute` is the blank as it is, None where that is not known.

    `control` is the size to cut (0 the foot), None where nothing is cut; `notes` has, for each fingering, where
    the note is believed to stand now, and one standard deviation of that [cents]; `assumed` names the sizes that
    are only taken to be as the pattern starts them, since nothing measured of them is written down. `rests` says in one
    line what it rests on; `drill` is the widest on the rack that a hole may be begun with; `left` what work is expected
    to the end; `not_sharp` how likely the cut leaves its note no more than the tolerance sharp, in words.
    """

    why: str
    action: Action | None = None
    control: int | None = None
    fingering: str | None = None
    start: float | None = None
    to: float | None = None
    expected: float | None = None
    risk: float | None = None
    flute: Instrument | None = None
    notes: dict[str, tuple[float, float]] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()
    rests: str = ""
    drill: Drill | None = None
    left: Left | None = None
    not_sharp: str = ""


def for_blank(
    session: Session,
    shop: Shop,
    blank: Blank,
    goals: Sequence[Goal],
    every: Sequence[Reading],
    made: Sequence[Cut],
    by_drills: bool = False,
) -> Advised | None:
    """Advice from the readings that count, each with the flute and the air as they were then, and from what the shop
    learned from finished flutes; with the drills on the rack alone where asked. None before tuning and for what has
    left the bench."""
    if blank.stage not in cuts.CUTTING or blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
        return None
    told = {cut.control for cut in cuts.counted(made)}
    if blank.stage is Stage.FINISHING and not told:
        # It was tuned, so its holes are larger than at first: advice on first sizes would cut it too far.
        return Advised("No advice: no cut of this flute is written down, so the sizes it has now are not known.")
    built = as_built.of(session, blank)
    first = cuts.at_first(session, blank)
    measured = set(cuts.gauged(session, blank))
    try:
        flute = cuts.as_cut(built.now, cuts.after(first, made))
    except Invalid as unknown:
        return Advised(f"No advice yet. {unknown}")
    rack = tools.drills(session)
    try:
        asked = _asked(
            session, shop, blank, goals, every, made, [drill.diameter for drill in rack] if by_drills else []
        )
        found = advised(asked.request)
    except (InvalidInput, Invalid) as error:
        return Advised(f"There is no advice for this flute: {error}", flute=flute)
    except Exception:
        # The bench goes on without advice, whatever went wrong in working it out.
        log.exception("no advice for %s", blank.serial)
        return Advised("No advice could be worked out. Readings and cuts can still be written down.", flute=flute)
    step = found.next
    names = {goal.fingering: show_note(goal.note) for goal in goals}
    others = "".join(f" {one.key}: {one.why}" for one in found.other_keys)
    return Advised(
        why=step.why.text(lambda fingering: names.get(fingering) or played(fingering)) + others,
        action=step.action,
        control=(step.hole or 0) if step.to is not None else None,
        fingering=step.fingering,
        start=step.start,
        to=step.to,
        expected=step.reading,
        risk=step.risk,
        flute=flute,
        assumed=tuple(cuts.name(i) for i in range(1 + len(flute.holes)) if i not in told | measured),
        notes={note.fingering: (note.expected, note.sd) for note in found.notes},
        rests=_rests(len(asked.request.readings), asked.knows, built),
        drill=_begin_with(rack, step.start, step.to) if step.hole and not by_drills else None,
        left=found.left if step.action not in ("done", "cannot reach") else None,
        not_sharp=in_ten(1.0 - step.risk) if step.to is not None and step.risk is not None else "",
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """What the engine is asked of a blank, and what the shop knew before."""

    request: AdviceRequest
    knows: Known


def request_of(session: Session, shop: Shop, blank: Blank) -> Asked:
    """What the engine is asked of a blank at the bench. Raises InvalidInput, Invalid."""
    assert blank.id is not None
    goals, every = readings.goals_for(session, blank), readings.of_blank(session, blank.id)
    return _asked(session, shop, blank, goals, every, cuts.of_blank(session, blank.id), [])


def _asked(
    session: Session,
    shop: Shop,
    blank: Blank,
    goals: Sequence[Goal],
    every: Sequence[Reading],
    made: Sequence[Cut],
    drills: Sequence[float],
) -> Asked:
    built, first = as_built.of(session, blank), cuts.at_first(session, blank)
    knows = corrections.known(session, _pattern_of(session, blank), built.design.window.planed)
    # What was read at voicing was another flute: square, without finger holes.
    counted = [r for r in readings.counted(every) if r.stage in cuts.CUTTING]
    of = dict(zip((r.id for r in counted), sittings(counted), strict=True))
    heard = [
        Heard(
            r.fingering,
            r.frequency,
            cuts.as_cut(built.at(r.at), sizes),
            air.at_the_bench(shop, r.temperature, r.humidity, r.warmed_up),
            of[r.id],
        )
        for r, sizes in cuts.when_read(first, made, counted)
    ]
    request = AdviceRequest.of(
        cuts.as_cut(built.now, cuts.after(first, made)),
        [Aim(goal.fingering, goal.frequency) for goal in goals],
        heard[-MAX_READINGS:],
        air=air.played(shop),
        prior=replace(knows.prior, finishing=_to_come(built, knows)),
        tolerance=shop.tolerance_cents,
        drills=drills or None,
    )
    return Asked(request, knows)


def sittings(some: Sequence[Reading]) -> list[str]:
    """The sitting of each reading, oldest first: one person in one go, warm or cold."""
    found: list[str] = []
    number = 0
    for i, reading in enumerate(some):
        before = some[i - 1] if i else None
        if before is not None and (
            before.by != reading.by or before.warmed_up != reading.warmed_up or reading.at - before.at > A_PAUSE
        ):
            number += 1
        found.append(str(number))
    return found


@lru_cache(maxsize=KEPT)
def advised(asked: AdviceRequest) -> Answer:
    """The engine's advice, kept for what was asked: a page that is looked at again need not wait for it.

    The request holds all that the answer rests on, so an answer never grows old: whatever changes asks another thing.
    Raises what the engine raises, which is not kept.
    """
    return advise(asked)


def _to_come(built: Built, knows: Known) -> Finishing:
    """What is still open of turning and finish, as the engine predicts it."""
    cents, sd = knows.coats if built.coats_to_come else (0.0, 0.0)
    return Finishing(built.wall_to_come, cents, sd)


def _rests(readings_used: int, knows: Known, built: Built) -> str:
    """What the advice rests on, in one line."""
    heard = f"{readings_used} reading{'' if readings_used == 1 else 's'} of this flute" if readings_used else ""
    if not knows.of_all:
        learned = "the stated wide assumptions: the shop has not learned from any finished flute yet"
    elif knows.of_pattern:
        learned = f"{knows.of_pattern} finished flute{'' if knows.of_pattern == 1 else 's'} of this pattern"
        learned += f", {knows.of_all} in all" if knows.of_all > knows.of_pattern else ""
    else:
        learned = f"{knows.of_all} finished flute{'' if knows.of_all == 1 else 's'} of other patterns"
    still = f" Still to come, and allowed for: {', '.join(built.open_steps).lower()}." if built.open_steps else ""
    return f"Rests on {heard + ' and on ' if heard else ''}{learned}.{still}"


def _begin_with(rack: Sequence[Drill], start: float | None, to: float | None) -> Drill | None:
    """The widest drill that takes something off and stays clear of the size advised."""
    if start is None or to is None:
        return None
    fit = [drill for drill in rack if start + SOMETHING <= drill.diameter <= to - CLEAR]
    return max(fit, key=lambda drill: drill.diameter, default=None)


def _pattern_of(session: Session, blank: Blank) -> int:
    return find(session, PatternRevision, blank.revision_id, "revision").pattern_id
