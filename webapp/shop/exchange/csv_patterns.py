"""What a row of patterns does: a flute by its dimensions becomes a pattern, or a further revision of one."""

import json
from dataclasses import replace
from typing import Any, Final

from sqlmodel import Session, col, select

from acoustics.flute.instrument import Instrument
from webapp.models import Pattern, PatternRevision, Units
from webapp.models.folding import folded
from webapp.shop.base.errors import Invalid
from webapp.shop.exchange.csv_rows import Cells, Fate, Says, read
from webapp.shop.patterns import importing, rules as patterns
from webapp.shop.patterns.importing import ImportAsked, KeepImported, RevisionAsked
from webapp.shop.people.accounts import Who
from webapp.shop.units.lengths import parse_length
from webapp.shop.units.numbers import plain_number

_PLACES = {
    "bore": ("bore", "diameter"),
    "wall": ("body", "wall"),
    "window_length": ("window", "length"),
    "window_width": ("window", "width"),
    "window_wall": ("window", "wall"),
    "edge_height": ("window", "edge_height"),
    "flue_depth": ("flue", "depth"),
    "flue_width": ("flue", "width"),
    "flue_length": ("flue", "length"),
    "chamber_length": ("chamber", "length"),
    "chamber_diameter": ("chamber", "diameter"),
    "block_height": ("block", "height"),
    "block_width": ("block", "width"),
    "block_length": ("block", "length"),
    "block_setback": ("block", "setback"),
    "finger_depth": ("finger", "depth"),
}
_NEEDED_SIZES = ("bore", "wall", "foot", "plug", "window_length", "window_width")


def pattern(session: Session, who: Who, cells: Cells, says: Says) -> Fate:
    name = cells.get("name", "")[:80]
    if not name:
        raise Invalid({"name": "Please fill this in."})
    document = json.dumps(_flute(cells, who.units))
    sounding = {"key": cells.get("key", ""), "scale": folded(cells.get("scale", "")), "a4": _number("a4", cells)}
    sounding["temperament"] = folded(cells.get("temperament", ""))
    try:
        known = session.exec(select(Pattern).where(Pattern.name == name)).first()
        if known is None:
            holes = len(importing.read_flute(document).holes)
            asked = read(ImportAsked, {**sounding, "document": document, "holes": holes}, who.units, says)
            revision = importing.import_pattern(
                session, who, asked, KeepImported(name=name, note=cells.get("note", ""))
            )
            undo = {"kind": "revision", "id": revision.id, "new": True}
            return Fate("new", name, address=f"/patterns/{revision.pattern_id}", undo=undo)
        return _known_pattern(session, who, known, document, cells)
    except Invalid as error:
        raise Invalid({_column(field_, words): words for field_, words in error.errors.items()}) from error


def _known_pattern(session: Session, who: Who, known: Pattern, document: str, cells: Cells) -> Fate:
    assert known.id is not None
    last = session.exec(
        select(PatternRevision)
        .where(PatternRevision.pattern_id == known.id)
        .order_by(col(PatternRevision.number).desc())
    ).first()
    flute = importing.read_flute(document)
    if last is not None and _with_flat(patterns.instrument_of(last)) == _with_flat(flute):
        return Fate("unchanged", known.name, address=f"/patterns/{known.id}")
    note = cells.get("note", "") or "From an imported table"
    revision = importing.import_revision(session, who, known.id, RevisionAsked(document=document, note=note))
    before = f"revision {last.number}" if last else ""
    changes = [("dimensions", before, f"revision {revision.number}")]
    undo = {"kind": "revision", "id": revision.id, "new": False}
    return Fate("changed", known.name, changes, f"/patterns/{known.id}", undo)


def _with_flat(flute: Instrument) -> Instrument:
    """The flute, its window planed: a table cannot say that it is not, and leaves a pattern alone whose is not."""
    return replace(flute, window=replace(flute.window, planed=True))


def _flute(cells: Cells, units: Units) -> dict[str, Any]:
    """The engine's document of the flute in a row, lengths in mm. Raises Invalid at the column."""
    size = {name: _length(name, cells[name], units) for name in cells if cells.get(name) and name not in _TEXTS}
    if missing := [name for name in _NEEDED_SIZES if name not in size]:
        raise Invalid({missing[0]: "Please fill this in."})
    flute: dict[str, Any] = {
        "format": "two-chamber-flute/1",
        "bore": [[-size["plug"], size["bore"]], [size["foot"], size.get("bore_at_foot", size["bore"])]],
        "body": {"outside": folded(cells.get("outside", "")) or "round"},
        "window": {"edge_angle": float(_number("edge_angle", cells)) if cells.get("edge_angle") else 30.0},
        "holes": [],
    }
    for name, (part, dimension) in _PLACES.items():
        if name in size and part != "bore":
            flute.setdefault(part, {})[dimension] = size[name]
    flute["window"].setdefault("wall", size["wall"])
    for n in range(1, 7):
        at, across = size.get(f"hole_{n}_place"), size.get(f"hole_{n}_diameter")
        if (at is None) != (across is None):
            raise Invalid(
                {f"hole_{n}_place" if at is None else f"hole_{n}_diameter": "A hole needs its place and its diameter."}
            )
        if at is not None:
            flute["holes"].append({"x": at, "diameter": across})
    return flute


_TEXTS: Final = ("name", "key", "scale", "a4", "temperament", "outside", "note", "edge_angle", "")


def _number(name: str, cells: Cells) -> str:
    try:
        return plain_number(cells.get(name, ""))
    except ValueError as error:
        raise Invalid({name: str(error)}) from error


def _length(name: str, text: str, units: Units) -> float:
    try:
        return parse_length(text, units)
    except ValueError as error:
        raise Invalid({name: str(error)}) from error


def _column(name: str, words: str) -> str:
    """The column that a complaint of the engine's is about: `bore[1]`, `holes[2].diameter` and the like."""
    if name != "document":
        return name
    start = words.split(":")[0]
    if start.startswith("holes[") and "]" in start:
        n = start[6 : start.index("]")]
        return f"hole_{int(n) + 1}_{'diameter' if start.endswith('diameter') else 'place'}" if n.isdigit() else ""
    plain = start.replace(".", "_")
    return (
        plain if plain in _PLACES else {"bore": "bore", "window_edge_angle": "edge_angle"}.get(plain.split("[")[0], "")
    )
