"""What hangs on the shop's wall: the drills that holes are made with, and the adhesives with their times."""

from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import Adhesive, Drill, StockItem, StockKind
from webapp.shop import diary
from webapp.shop.accounts import Who
from webapp.shop.air import Temperature
from webapp.shop.durations import Minutes, show_duration
from webapp.shop.errors import Invalid
from webapp.shop.finding import LARGEST_ID, find
from webapp.shop.lengths import Length, show_length
from webapp.shop.sizes import between

SAME_DRILL = 0.005  # mm: nearer than this, two drills are one


class DrillAsked(BaseModel):
    """A drill; without a label it is called by its size."""

    diameter: Annotated[Length, between(0.5, 40.0)]
    label: Annotated[str, StringConstraints(max_length=30)] = ""


class AdhesiveAsked(BaseModel):
    """An adhesive with the times the shop works by. The label on the bottle comes first."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=60)]
    open_minutes: Minutes
    clamp_minutes: Minutes
    cure_minutes: Minutes
    lowest_temperature: Temperature
    note: Annotated[str, StringConstraints(max_length=500)] = ""
    item_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None


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
    session.commit()
    return drill


def take_down_drill(session: Session, who: Who, drill_id: int) -> None:
    """Take a drill off the rack; patterns that use it keep their holes. Raises NotAllowed, NotFound."""
    who.must_work()
    drill = find(session, Drill, drill_id, "drill", lock=True)
    diary.write(session, who, "tools", 1, f"Drill {drill.label} taken down")
    session.delete(drill)
    session.commit()


def adhesives(session: Session) -> list[Adhesive]:
    return list(session.exec(select(Adhesive).order_by(Adhesive.name)))


def adhesive(session: Session, adhesive_id: int) -> Adhesive:
    """Raises NotFound."""
    return find(session, Adhesive, adhesive_id, "adhesive")


def glue_lots(session: Session) -> list[StockItem]:
    """Lots of glue that an adhesive may be taken from."""
    statement = select(StockItem).where(StockItem.kind == StockKind.GLUE, col(StockItem.used_up).is_(False))
    return list(session.exec(statement.order_by(StockItem.name)))


def add_adhesive(session: Session, who: Who, asked: AdhesiveAsked) -> Adhesive:
    """A further adhesive. Raises NotAllowed, Invalid."""
    who.must_work()
    _check(session, asked, None)
    new = Adhesive(**asked.model_dump())
    session.add(new)
    session.flush()
    diary.write(session, who, "adhesive", new.id, f"Added {new.name}")
    session.commit()
    return new


def change_adhesive(session: Session, who: Who, adhesive_id: int, asked: AdhesiveAsked) -> Adhesive:
    """Change an adhesive; glue-ups under way keep the times they began with. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    known = find(session, Adhesive, adhesive_id, "adhesive", lock=True)
    _check(session, asked, adhesive_id)
    for name, value in asked.model_dump().items():
        if (before := getattr(known, name)) != value:
            setattr(known, name, value)
            words = name.removesuffix("_id").replace("_minutes", " time").replace("_", " ").capitalize()
            was, is_now = (_said(name, one) for one in (before, value))
            diary.write(session, who, "adhesive", known.id, f"{words}: was {was}, is now {is_now}")
    session.add(known)
    session.commit()
    return known


def _check(session: Session, asked: AdhesiveAsked, own_id: int | None) -> None:
    wrong = {}
    same = select(Adhesive.id).where(Adhesive.name == asked.name, col(Adhesive.id) != (own_id or 0))
    if session.exec(same).first():
        wrong["name"] = "There is an adhesive of that name already."
    if asked.clamp_minutes > asked.cure_minutes:
        wrong["cure_minutes"] = "It cures no sooner than it comes out of clamps."
    if asked.item_id is not None:
        item = session.get(StockItem, asked.item_id)
        if item is None or item.kind is not StockKind.GLUE:
            wrong["item_id"] = "Choose a lot of glue."
    if wrong:
        raise Invalid(wrong)


def _said(name: str, value: object) -> str:
    if name.endswith("_minutes") and isinstance(value, int):
        return show_duration(value)
    if name == "item_id":
        return f"lot {value}" if value else "no lot"
    return f"{value:g}" if isinstance(value, float) else str(value) or "nothing"
