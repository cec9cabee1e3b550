"""Patterns and their revisions."""

from typing import Annotated, Any

from pydantic import BaseModel, Field

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import PatternRevision
from webapp.shop.patterns import importing, lists as pattern_list, rules as patterns
from webapp.shop.patterns.forms import DesignAsked, NoLongerProven, Note, SavePattern
from webapp.shop.patterns.importing import ImportAsked, KeepImported, RevisionAsked
from webapp.shop.people.tokens import Scope
from webapp.shop.units.keys import parse_key


class Designed(DesignAsked):
    """A pattern to design and keep; `accept`: also where not every limit can be met."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    note: Note = ""
    accept: bool = False


class BroughtIn(ImportAsked):
    """A flute designed elsewhere, in the engine's JSON as text, to become a pattern."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    note: Note = ""


class Nothing(BaseModel):
    """No fields."""


def find(call: Call) -> Answer:
    try:
        key = parse_key(call.query["key"]) if call.query.get("key") else None
    except ValueError:
        return Answer({"items": []})
    return Answer({"items": rows(one.pattern for one in pattern_list.listed(call.session, key))})


def show(call: Call) -> Answer:
    pattern = patterns.pattern_of(call.session, call.number("id"))
    assert pattern.id is not None
    every = [one.revision for one in pattern_list.revisions(call.session, pattern.id)]
    return Answer(row(pattern, revisions=rows(every)))


def revision(call: Call) -> Answer:
    return Answer(row(patterns.revision_of(call.session, call.number("id"), call.number("revision"))))


def design(call: Call) -> Answer:
    asked = call.asked(Designed)
    keep = SavePattern(name=asked.name, note=asked.note, accept=asked.accept)
    return _new(patterns.save_pattern(call.session, call.who, asked, keep))


def bring_in(call: Call) -> Answer:
    asked = call.asked(BroughtIn)
    return _new(importing.import_pattern(call.session, call.who, asked, KeepImported(name=asked.name, note=asked.note)))


def further(call: Call) -> Answer:
    return _new(importing.import_revision(call.session, call.who, call.number("id"), call.asked(RevisionAsked)))


def prove(call: Call) -> Answer:
    return Answer(row(patterns.mark_proven(call.session, call.who, call.number("id"), call.number("revision"))))


def disprove(call: Call) -> Answer:
    asked = call.asked(NoLongerProven)
    return Answer(
        row(patterns.no_longer_proven(call.session, call.who, call.number("id"), call.number("revision"), asked))
    )


def _new(made: PatternRevision) -> Answer:
    shown: dict[str, Any] = row(made)
    return Answer(shown, location=f"/api/v1/patterns/{made.pattern_id}/revisions/{made.number}")


_ONE = "/patterns/{id:int}"
_REVISION = _ONE + "/revisions/{revision:int}"
W = Scope.WORK
WAYS = [
    Way(
        "GET",
        "/patterns",
        "Patterns",
        find,
        shows="pattern",
        listed=True,
        query={"key": "a key, such as A4 or F#4"},
        does=("/patterns",),
    ),
    Way("GET", _ONE, "One pattern, with its revisions", show, shows="pattern", does=("/patterns/{pattern_id}",)),
    Way(
        "GET",
        _REVISION,
        "One revision, all dimensions in mm",
        revision,
        shows="pattern_revision",
        does=("/patterns/{pattern_id}/{number}", "/patterns/{pattern_id}/{number}/flute.json"),
    ),
    Way(
        "POST",
        "/patterns",
        "Design a pattern and keep it",
        design,
        W,
        Designed,
        "pattern_revision",
        does=("/patterns/design",),
    ),
    Way(
        "POST",
        "/patterns/import",
        "Keep a flute designed elsewhere as a pattern",
        bring_in,
        W,
        BroughtIn,
        "pattern_revision",
        does=("/patterns/import",),
    ),
    Way(
        "POST",
        _ONE + "/revisions",
        "Keep a flute as a further revision",
        further,
        W,
        RevisionAsked,
        "pattern_revision",
        does=("/patterns/import",),
    ),
    Way(
        "POST",
        _REVISION + "/prove",
        "Vouch for a revision",
        prove,
        W,
        Nothing,
        "pattern_revision",
        does=("/patterns/{pattern_id}/{number}/proven",),
    ),
    Way(
        "POST",
        _REVISION + "/no-longer-proven",
        "Take the word back",
        disprove,
        W,
        NoLongerProven,
        "pattern_revision",
        does=("/patterns/{pattern_id}/{number}/no-longer-proven",),
    ),
]
