"""What hangs on the shop's wall: the drills that holes are made with."""

from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import Drill
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.lengths import Length, show_length
from webapp.shop.units.sizes import between

SAME_DRILL = 0.005  # mm: nearer than this, two drills are one


class DrillAsked(BaseModel):
    """A drill; without a label it is called by its size."""

    diameter: Annotated[Length, between(0.5, 40.0)]
    label: Annotated[str, StringConstraints(max_length=30)] = ""


def drills(session: Session) -> list[Drill]:
    """The rack of drills, smallest first."""
    return list(session.exec(select(Drill).order_by(col(Drill.diameter))))


def add_drill(session: Session, who: Who, asked: DrillAsked) -> Drill:
    """Hang up a drill. Raises NotAllowed, Invalid."""
    who.must_work()
    near = select(Drill).where(col(Drill.diameter).between(asked.diameter - SAME_DRILL, asked.diameter + SAME_DRILL))
    if there := session.exec(near).first():
        raise Invalid({"diameter": f"That drill hangs there already: {there.label}."})
    drill = Drill(diameter=asked.diameter, label=asked.label or show_length(asked.diameter, who.units)[:30])
    session.add(drill)
    session.flush()
    diary.write(session, who, "tools", 1, f"Drill {drill.label} added")
    session.flush()
    return drill


def take_down_drill(session: Session, who: Who, drill_id: int) -> None:
    """Take a drill off the rack; patterns that use it keep their holes. Raises NotAllowed, NotFound."""
    who.must_work()
    drill = find(session, Drill, drill_id, "drill", lock=True)
    diary.write(session, who, "tools", 1, f"Drill {drill.label} taken down")
    session.delete(drill)
    session.flush()
