"""All final sizes at once, as they are measured when tuning ends: so that a flute teaches where no cut was written."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel
from sqlmodel import Session

from webapp.models import Blank, BlankStatus, Cut, Units
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.bench import cuts, finished_flutes
from webapp.shop.blanks.state import lock
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.lengths import Length, show_length
from webapp.shop.units.sizes import between

NEARLY = 0.15  # mm by which a hole may be measured smaller, or a foot longer, than it was cut: the callipers' error

Diameter = Annotated[Length, between(1.0, 20.0)]


class FinalSizes(BaseModel):
    """Where the foot lies from the splitting edge, and how wide each finger hole is."""

    foot: Annotated[Length, between(60.0, 1500.0)] | None = None
    hole_1: Diameter | None = None
    hole_2: Diameter | None = None
    hole_3: Diameter | None = None
    hole_4: Diameter | None = None
    hole_5: Diameter | None = None
    hole_6: Diameter | None = None
    hole_7: Diameter | None = None
    hole_8: Diameter | None = None

    def of(self, control: int) -> float | None:
        """The size of the foot (0) or of a finger hole."""
        found: float | None = getattr(self, field(control))
        return found


@dataclass(frozen=True, slots=True)
class Size:
    """One size of the sheet: what it began as or was cut to, as far as that is known, and whether it was `told` since
    tuning began."""

    control: int
    now: float | None
    told: bool


def field(control: int) -> str:
    """The field of the foot (0) or of a finger hole."""
    return f"hole_{control}" if control else "foot"


def sheet(session: Session, blank: Blank) -> list[Size]:
    """What is known of each size, the finger holes first, the foot last."""
    made = cuts.counted(cuts.of_blank(session, blank.id or 0))
    told = {cut.control for cut in made}
    now = cuts.after(cuts.at_first(session, blank), made)
    found = [Size(control, size, control in told) for control, size in enumerate(now)]
    return [*found[1:], found[0]]


def can_be_told(blank: Blank) -> bool:
    """Whether this flute has final sizes that somebody in the shop can measure."""
    return blank.stage in cuts.CUTTING and blank.status in (BlankStatus.IN_WORK, BlankStatus.FINISHED)


def are_missing(session: Session, blank: Blank) -> bool:
    """Whether some final size of a flute that can be measured was never told."""
    return can_be_told(blank) and not all(one.told for one in sheet(session, blank))


def as_typed(sizes: list[Size], units: Units) -> dict[str, str]:
    """The sheet's fields with what is known; a size that only began somewhere has to be measured."""
    return {
        field(one.control): show_length(one.now, units, exact=True) if one.told and one.now is not None else ""
        for one in sizes
    }


def record(session: Session, who: Who, blank_id: int, asked: FinalSizes) -> list[Cut]:
    """Write down every size that differs from what is known, or that nobody told before.

    Raises NotAllowed, NotFound, Refused, Invalid.
    """
    who.must_work()
    blank = lock(session, blank_id)
    if not can_be_told(blank):
        raise Refused(f"{blank.serial} is not being tuned or finished: its final sizes are measured then.")
    sizes = sorted(sheet(session, blank), key=lambda size: size.control)
    wrong: dict[str, str] = {}
    final: list[float] = []
    for one in sizes:
        size = asked.of(one.control)
        if size is None:
            wrong[field(one.control)] = "Measure it: the flute teaches by all its sizes together."
            continue
        if one.now is not None and (one.now - size) * (1 if one.control else -1) > 0:
            only = "holes only get larger" if one.control else "the foot only gets shorter"
            if abs(one.now - size) > NEARLY:
                was = show_length(one.now, who.units)
                wrong[field(one.control)] = (
                    f"It was {was} before, and {only}: measure again; if the earlier entry was wrong, take that back."
                )
            size = one.now
        final.append(size)
    if wrong:
        raise Invalid(wrong)
    cuts.as_cut(cuts.designed(session, blank), tuple(final))
    made = []
    for one, size in zip(sizes, final, strict=True):
        if one.told and one.now is not None and abs(size - one.now) < cuts.LEAST:
            continue
        made.append(
            Cut(
                blank_id=blank_id,
                control=one.control,
                size=size,
                before=one.now,
                note="final size",
                by=who.id,
                found=True,
            )
        )
    session.add_all(made)
    if made:
        finished_flutes.changed(session, blank_id)
        what = ", ".join(f"{cuts.name(cut.control)} {show_length(cut.size, who.units)}" for cut in made)
        diary.write(session, who, "blank", blank_id, f"Final sizes: {what}")
    session.flush()
    return made
