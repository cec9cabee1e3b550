"""A pattern from the engine's JSON: its geometry is kept, its notes are predicted again in the shop's played air."""

import json
from math import log2
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session

from acoustics.designing.design import Design, DesignedNote
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import Mode, predict
from acoustics.notes.charts import HOLE_COUNTS, keeps_third_hole_closed
from acoustics.notes.music import Target, targets
from acoustics.saying import Saying
from webapp.models import Pattern, PatternRevision, Shop
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.designing import Designed, in_our_words
from webapp.shop.patterns.forms import Note
from webapp.shop.people.accounts import Who
from webapp.shop.settings import air
from webapp.shop.units.sounding import Sounding

LARGEST: Final = 200_000
"""Characters of a document: a flute needs a few thousand at most."""
FARTHEST: Final = 700.0
"""Cents from its target at which a note is another note: the key or the chart must be a different one."""


class ImportAsked(Sounding):
    """The key, scale and pitch of the flute; the number of finger holes is taken from the document."""

    document: Annotated[str, Field(min_length=1, max_length=LARGEST)]
    third_hole: Literal["closed", "in turn"] | None = None


class RevisionAsked(BaseModel):
    """A flute to save as a new revision of a pattern, and what is different about it."""

    document: Annotated[str, Field(min_length=1, max_length=LARGEST)]
    note: Annotated[str, StringConstraints(min_length=1, max_length=2000)]


class KeepImported(BaseModel):
    """The new pattern's name."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    note: Note = ""


def read_flute(document: str) -> Instrument:
    """The flute of a JSON text: an instrument, or a design that holds one. Raises Invalid at `document`."""
    try:
        found = json.loads(document)
    except json.JSONDecodeError as error:
        raise Invalid({"document": f"This is not JSON: line {error.lineno}, column {error.colno}."}) from error
    except (RecursionError, ValueError) as error:
        raise Invalid(
            {"document": "This JSON can't be read: it is nested too deeply, or a number is too long."}
        ) from error
    if isinstance(found, dict) and isinstance(found.get("instrument"), dict):
        found = found["instrument"]
    try:
        flute = Instrument.from_json(found)
    except InvalidInput as error:
        raise Invalid({"document": f"{error.field}: {error.limit}."}) from error
    if len(flute.holes) not in HOLE_COUNTS:
        raise Invalid({"document": f"holes: there are {len(flute.holes)}; a pattern has 5 or 6 finger holes."})
    return flute


def import_pattern(session: Session, who: Who, asked: ImportAsked, keep: KeepImported) -> PatternRevision:
    """Save the flute of a document as the first revision of a new pattern. Raises NotAllowed, Invalid."""
    who.must_work()
    flute = read_flute(asked.document)
    sounding = Sounding.model_validate(
        asked.model_dump(exclude={"document", "third_hole"}) | {"holes": len(flute.holes)}
    )
    in_turn = asked.third_hole == "in turn" and keeps_third_hole_closed(sounding.scale, sounding.holes)
    designed = of_flute(session, flute, sounding, in_turn)
    return patterns.save_imported(session, who, sounding, keep.name, keep.note, designed)


def import_revision(session: Session, who: Who, pattern_id: int, asked: RevisionAsked) -> PatternRevision:
    """Save the flute of a document as a new revision of a pattern, whose key, scale and fingerings it keeps.

    Raises NotAllowed, NotFound, Refused, Invalid.
    """
    who.must_work()
    pattern = patterns.pattern_of(session, pattern_id)
    flute = read_flute(asked.document)
    if len(flute.holes) != pattern.holes:
        raise Invalid({"document": f"holes: there are {len(flute.holes)}; this pattern has {pattern.holes}."})
    designed = as_it_is(session, pattern, flute)
    return patterns.save_imported_revision(session, who, pattern_id, designed, asked.note)


def as_it_is(session: Session, pattern: Pattern, flute: Instrument) -> Designed:
    """The unchanged flute with the notes of a pattern's chart as predicted for it. Raises Invalid."""
    sounding = Sounding.model_validate(pattern.model_dump(include=set(Sounding.model_fields)))
    return of_flute(session, flute, sounding, patterns.opens_in_turn(session, pattern))


def of_flute(session: Session, flute: Instrument, sounding: Sounding, in_turn: bool = False) -> Designed:
    """The unchanged flute with its notes as predicted for what it should sound. Raises Invalid."""
    shop = find(session, Shop, 1, "shop")
    notes = predicted(flute, air.played(shop), sounding, in_turn)
    design = Design(flute, tuple(notes), (), tuple(warnings(notes, shop)))
    return Designed(design, _request(flute, sounding, shop, in_turn), ())


def predicted(flute: Instrument, medium: Air, sounding: Sounding, in_turn: bool = False) -> list[DesignedNote]:
    """Every note of the chart as predicted for this flute; `in_turn`: the third hole never stays closed.

    Raises Invalid.
    """
    wanted = _targets(sounding, in_turn)
    found = []
    for target, note in zip(wanted, predict(flute, medium, [t.fingering for t in wanted], modes=2), strict=True):
        first, second = note.modes
        if not isinstance(first, Mode):
            raise Invalid({"document": f"{target.note} ({target.fingering}) has no resonance: {first.reason}."})
        cents = _cents(first.frequency, target.frequency)
        if abs(cents) > FARTHEST:
            way = "above" if cents > 0 else "below"
            raise Invalid({"key": f"The flute's {target.fingering} sounds {abs(cents):.0f} cents {way} {target.note}."})
        octave = _cents(second.frequency, 2 * target.frequency) if isinstance(second, Mode) else None
        found.append(
            DesignedNote(target.fingering, target.note, target.frequency, first.frequency, cents, target.cross, octave)
        )
    return found


def warnings(notes: list[DesignedNote], shop: Shop) -> list[Saying]:
    """A warning for each note predicted outside the shop's tolerance."""
    far = [n for n in notes if not n.cross and abs(n.cents) > shop.tolerance_cents]
    return [
        Saying(f"{n.note} ({n.fingering}) is predicted {abs(n.cents):.0f} cents {'sharp' if n.cents > 0 else 'flat'}")
        for n in far
    ]


def _targets(sounding: Sounding, in_turn: bool) -> tuple[Target, ...]:
    closed = False if in_turn else None
    try:
        return targets(
            sounding.key,
            sounding.scale,
            sounding.holes,
            sounding.a4,
            sounding.temperament,
            third_hole_closed=closed,
        )
    except InvalidInput as error:
        raise Invalid(in_our_words(error)) from error


def _cents(frequency: float, target: float) -> float:
    return 1200.0 * log2(frequency / target)


def _request(flute: Instrument, sounding: Sounding, shop: Shop, in_turn: bool) -> dict[str, Any]:
    """The design request that describes this flute: a new revision starts from it."""
    return {
        **sounding.model_dump(),
        **({"third_hole_closed": False} if in_turn else {}),
        "outside": flute.body.outside,
        "bore_diameter": flute.bore_diameter(0.0),
        "wall": flute.body.wall,
        "window": {
            "length": flute.window.length,
            "width": flute.window.width,
            "wall": flute.window_wall,
            "edge_angle": flute.window.edge_angle,
            "edge_height": flute.window.edge_height,
        },
        "stub": -flute.plug_x - flute.window.length,
        "air": {
            "temperature": shop.played_temperature,
            "relative_humidity": shop.played_humidity,
            "co2": shop.played_co2,
        },
    }
