"""The next cut for a blank at the bench, from its readings so far; or, in words, why there is no advice."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlmodel import Session

from acoustics.errors import InvalidInput
from acoustics.instrument import Instrument
from acoustics.tuning import MAX_READINGS, advise
from webapp.models import Blank, BlankStatus, Cut, Reading, Shop, Stage
from webapp.shop import air, cuts, readings
from webapp.shop.errors import Invalid
from webapp.shop.readings import Goal

log = logging.getLogger("flutebench")


@dataclass(frozen=True, slots=True)
class Advised:
    """What to do next and why; `flute` is the blank as it is, None where that is not known.

    `control` is the size to cut (0 the foot), None where nothing is cut; `notes` has, for each fingering, where
    the note is believed to stand now, and one standard deviation of that [cents]; `assumed` names the sizes that
    are only taken to be as the pattern starts them, since nothing measured of them is written down.
    """

    why: str
    action: str = ""
    control: int | None = None
    fingering: str | None = None
    start: float | None = None
    to: float | None = None
    expected: float | None = None
    risk: float | None = None
    flute: Instrument | None = None
    notes: dict[str, tuple[float, float]] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


def for_blank(
    session: Session, shop: Shop, blank: Blank, goals: Sequence[Goal], every: Sequence[Reading], made: Sequence[Cut]
) -> Advised | None:
    """Advice from the readings that count, each with the flute and the air as they were then; None before tuning and
    for what has left the bench."""
    if blank.stage not in cuts.CUTTING or blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
        return None
    told = {cut.control for cut in cuts.counted(made)}
    if blank.stage is Stage.FINISHING and not told:
        # It was tuned, so its holes are larger than at first: advice on first sizes would cut it too far.
        return Advised("No advice: no cut of this flute is written down, so the sizes it has now are not known.")
    design = cuts.designed(session, blank)
    first = cuts.at_first(session, blank)
    measured = set(cuts.gauged(session, blank))
    try:
        flute = cuts.as_cut(design, cuts.after(first, made))
    except Invalid as unknown:
        return Advised(f"No advice yet. {unknown}")
    try:
        heard = [
            {
                "fingering": r.fingering,
                "frequency": r.frequency,
                "instrument": cuts.as_cut(design, cuts.after(first, made, r.at)).to_json(),
                "air": air.at_the_bench(shop, r.temperature, r.humidity, r.warmed_up).to_json(),
            }
            for r in readings.counted(every)
            # What was read at voicing was another flute: square, without finger holes.
            if r.stage in cuts.CUTTING
        ]
        found = advise(
            {
                "instrument": flute.to_json(),
                "air": air.played(shop).to_json(),
                "targets": [{"fingering": g.fingering, "frequency": g.frequency} for g in goals],
                "readings": heard[-MAX_READINGS:],
                "tolerance": shop.tolerance_cents,
            }
        )
    except (InvalidInput, Invalid) as error:
        return Advised(f"There is no advice for this flute: {error}", flute=flute)
    except Exception:
        # The bench goes on without advice, whatever went wrong in working it out.
        log.exception("no advice for %s", blank.serial)
        return Advised("No advice could be worked out. Readings and cuts can still be written down.", flute=flute)
    step = found["next"]
    cutting = step["to"] is not None
    others = "".join(f" {one['key']}: {one['why']}" for one in found["other_keys"])
    return Advised(
        why=step["why"] + others,
        action=step["action"],
        control=(step["hole"] or 0) if cutting else None,
        fingering=step["fingering"],
        start=step["from"],
        to=step["to"],
        expected=step["expected_reading"],
        risk=step["risk_sharp"],
        flute=flute,
        assumed=tuple(cuts.name(i) for i in range(1 + len(flute.holes)) if i not in told | measured),
        notes={note["fingering"]: (note["expected_cents"], note["sd_cents"]) for note in found["notes"]},
    )
