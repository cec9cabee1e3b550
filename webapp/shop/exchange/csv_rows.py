"""What a row of customers or of stock does, through the shop's own rules."""

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from sqlmodel import Session, col, select

from webapp.models import Species, StockItem, StockKind, StockMovement, Units
from webapp.models.folding import folded
from webapp.shop.base.errors import Invalid
from webapp.shop.orders import customers
from webapp.shop.orders.customers import FIELDS, CustomerAsked
from webapp.shop.people import amounts
from webapp.shop.people.accounts import Who
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import Count, LotAsked, NewLot
from webapp.shop.stock.lists import lot
from webapp.shop.units.lengths import show_length
from webapp.shop.units.numbers import plain_number

Model = TypeVar("Model", bound=BaseModel)
Cells = dict[str, str]
Says = Callable[[ValidationError], dict[str, str]]


@dataclass(frozen=True, slots=True)
class Fate:
    """What becomes of a row: new, changed (what, from what to what) or unchanged; `name` is what it is called."""

    what: str
    name: str
    changes: list[tuple[str, str, str]] = field(default_factory=list)
    address: str = ""
    undo: dict[str, Any] | None = None  # what `taking_back` needs


def read(model: type[Model], cells: dict[str, Any], units: Units, says: Says) -> Model:
    try:
        return model.model_validate({n: v for n, v in cells.items() if v not in ("", None)}, context={"units": units})
    except ValidationError as error:
        raise Invalid(says(error)) from error


def customer(session: Session, who: Who, cells: Cells, says: Says) -> Fate:
    name = cells.get("name", "")
    asked = read(CustomerAsked, {n: cells.get(n, "") for n in FIELDS}, who.units, says)
    known = customers.named(session, name)
    if len(known) > 1:
        raise Invalid({"name": f"{len(known)} customers are called so: which of them is meant can't be told."})
    if not known:
        who.must_work()
        new = customers.add(session, who, asked.name, asked.contact)
        new.note, new.address = asked.note, asked.address
        session.add(new)
        session.flush()
        made: dict[str, Any] = {"kind": "customer", "id": new.id, "before": None}
        return Fate("new", asked.name, address=f"/customers/{new.id}", undo=made)
    before = known[0]
    assert before.id is not None
    fresh = {n: getattr(asked, n) if cells.get(n) else getattr(before, n) for n in FIELDS}
    changes = [(n, getattr(before, n), fresh[n]) for n in fresh if fresh[n] != getattr(before, n)]
    undo: dict[str, Any] | None = None
    if changes:
        undo = {"kind": "customer", "id": before.id, "before": {n: getattr(before, n) for n in FIELDS}, "after": fresh}
        customers.change(session, who, before.id, CustomerAsked(**fresh, version=before.version))
    return Fate("changed" if changes else "unchanged", fresh["name"], changes, f"/customers/{before.id}", undo)


_SIZES = ("length", "width", "thickness")
_NUMBERS = ("quantity", "moisture", "unit_cost", "reorder_at")


def lot_of_stock(session: Session, who: Who, cells: Cells, says: Says) -> Fate:
    said: dict[str, Any] = dict(cells)
    wrong = {}
    for name in _NUMBERS:
        try:
            said[name] = plain_number(cells.get(name, ""))
        except ValueError as error:
            wrong[name] = str(error)
    if wrong:
        raise Invalid(wrong)
    said["kind"] = _kind(cells.get("kind", ""))
    said["species_id"] = _species(session, cells.get("wood", ""))
    if not said.get("unit"):
        said["unit"] = "piece" if said["kind"] in ("board", "halves", "block blank") else ""
    known = _known_lot(session, cells.get("name", ""), said["kind"], said["species_id"])
    if known is None:
        asked = read(NewLot, said, who.units, says)
        item = stock.add_lot(session, who, asked)
        return Fate("new", asked.name, address=f"/stock/{item.id}", undo=_undo_lot(session, item, None, 0.0))
    assert known.id is not None
    label_before = json.loads(
        LotAsked.model_validate(known.model_dump(include=set(LotAsked.model_fields))).model_dump_json()
    )
    there_before = lot(session, known).there
    label = known.model_dump(include=set(LotAsked.model_fields))
    if not amounts.changes(who.role, "stock_item.unit_cost"):
        del label["unit_cost"]
    label |= {n: v for n, v in said.items() if n in LotAsked.model_fields and v not in ("", None)}
    asked_label = read(LotAsked, label, who.units, says)
    amounts.check_asked(who, asked_label, "stock_item")
    changes = [
        (n, _shown(n, getattr(known, n), who.units), _shown(n, getattr(asked_label, n), who.units))
        for n in ("length", "width", "thickness", "moisture", "unit_cost", "reorder_at", "place")
        if (n != "unit_cost" or n in label) and not _same(getattr(known, n), getattr(asked_label, n))
    ]
    if changes:
        stock.relabel(session, who, known.id, asked_label)
    if said["quantity"]:
        counted = read(Count, {"counted": said["quantity"], "why": "Counted in an imported table"}, who.units, says)
        there = lot(session, known).there
        if round(counted.counted - there, 6):
            changes.append(("quantity", f"{there:g}", f"{counted.counted:g}"))
            stock.count(session, who, known.id, counted)
    undo = _undo_lot(session, known, label_before, there_before) if changes else None
    return Fate("changed" if changes else "unchanged", known.name, changes, f"/stock/{known.id}", undo)


def _undo_lot(session: Session, item: StockItem, label: dict[str, Any] | None, there: float) -> dict[str, Any]:
    """The label and the amount as they were; the newest movement, so that what was done since is seen."""
    session.flush()
    newest = select(StockMovement.id).where(StockMovement.item_id == item.id).order_by(col(StockMovement.id).desc())
    return {
        "kind": "lot",
        "id": item.id,
        "label": label,
        "there": there,
        "movement": session.exec(newest).first(),
    }


def _kind(text: str) -> str:
    plain = folded(text)
    same = {
        "boards": "board",
        "half": "halves",
        "block": "block blank",
        "block blanks": "block blank",
        "blocks": "block blank",
    }
    return same.get(plain, plain)


def _species(session: Session, name: str) -> int | None:
    if not name:
        return None
    woods = {folded(wood): wood_id for wood_id, wood in session.exec(select(Species.id, Species.name))}
    if folded(name) not in woods:
        raise Invalid({"wood": "The shop has no such wood: add it to the woods first, or write one of them."})
    return woods[folded(name)]


def _known_lot(session: Session, name: str, kind: str, species_id: int | None) -> StockItem | None:
    if kind not in list(StockKind):
        return None
    statement = select(StockItem).where(
        StockItem.name == name, StockItem.kind == StockKind(kind), col(StockItem.used_up).is_(False)
    )
    found = [item for item in session.exec(statement) if species_id is None or item.species_id == species_id]
    if len(found) > 1:
        raise Invalid({"name": f"{len(found)} lots are called so: which of them is meant can't be told."})
    return found[0] if found else None


def _same(one: object, other: object) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) < 1e-6
    return one == other


def _shown(name: str, value: Any, units: Units) -> str:
    if value is None or value == "":
        return "nothing"
    if name in _SIZES:
        return show_length(value, units)
    return f"{value:g}" if isinstance(value, float) else f"{value:.2f}" if isinstance(value, Decimal) else str(value)
