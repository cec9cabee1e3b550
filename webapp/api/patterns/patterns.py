"""Patterns and their revisions."""

from typing import Annotated

from fastapi import Query
from pydantic import BaseModel, Field
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.rows import listed, many, model_of, row, row_of, rows
from webapp.api.frame.ways import WORK, way
from webapp.models import Pattern, PatternRevision
from webapp.shop.patterns import importing, lists as pattern_list, real_head, rules as patterns
from webapp.shop.patterns.forms import DesignAsked, NoLongerProven, Note, SavePattern
from webapp.shop.patterns.importing import ImportAsked, KeepImported, RevisionAsked
from webapp.shop.units.keys import parse_key

PatternShown = model_of("PatternShown", Pattern, revisions=many(row_of(PatternRevision)))
router = ways.router("patterns")


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


@router.get("/patterns", **way("Patterns", "/patterns", shows=listed(row_of(Pattern))))
def find(call: Look, key: Annotated[str, Query(description="a key, such as A4 or F#4")] = "") -> Response:
    try:
        wanted = parse_key(key) if key else None
    except ValueError:
        return call.answer({"items": []})
    return call.answer({"items": rows(one.pattern for one in pattern_list.listed(call.session, wanted))})


@router.get(
    "/patterns/{id:int}", **way("One pattern, with its revisions", "/patterns/{pattern_id}", shows=PatternShown)
)
def show(call: Look, id: int) -> Response:
    pattern = patterns.pattern_of(call.session, id)
    assert pattern.id is not None
    every = [one.revision for one in pattern_list.revisions(call.session, pattern.id)]
    return call.answer(row(pattern, revisions=rows(every)))


@router.get(
    "/patterns/{id:int}/revisions/{revision:int}",
    **way(
        "One revision, all dimensions in mm",
        "/patterns/{pattern_id}/{number}",
        "/patterns/{pattern_id}/{number}/flute.json",
        shows=row_of(PatternRevision),
    ),
)
def revision(call: Look, id: int, revision: int) -> Response:
    return call.answer(row(patterns.revision_of(call.session, id, revision)))


@router.post(
    "/patterns",
    **way("Design a pattern and keep it", "/patterns/design", scope=WORK, shows=row_of(PatternRevision), status=201),
)
def design(call: Change, asked: Designed) -> Response:
    keep = SavePattern(name=asked.name, note=asked.note, accept=asked.accept)
    return _new(call, patterns.save_pattern(call.session, call.who, asked, keep))


@router.post(
    "/patterns/import",
    **way(
        "Keep a flute designed elsewhere as a pattern",
        "/patterns/import",
        scope=WORK,
        shows=row_of(PatternRevision),
        status=201,
    ),
)
def bring_in(call: Change, asked: BroughtIn) -> Response:
    return _new(
        call, importing.import_pattern(call.session, call.who, asked, KeepImported(name=asked.name, note=asked.note))
    )


@router.post(
    "/patterns/{id:int}/revisions",
    **way(
        "Keep a flute as a further revision", "/patterns/import", scope=WORK, shows=row_of(PatternRevision), status=201
    ),
)
def further(call: Change, id: int, asked: RevisionAsked) -> Response:
    return _new(call, importing.import_revision(call.session, call.who, id, asked))


@router.post(
    "/patterns/{id:int}/revisions/{revision:int}/real-head",
    **way(
        "Keep the same holes with the head as it is made, as a further revision",
        "/patterns/{pattern_id}/{number}/real-head",
        scope=WORK,
        shows=row_of(PatternRevision),
        status=201,
    ),
)
def give_head(call: Change, id: int, revision: int, asked: Nothing) -> Response:
    return _new(call, real_head.give_real_head(call.session, call.who, id, revision))


@router.post(
    "/patterns/{id:int}/revisions/{revision:int}/prove",
    **way("Vouch for a revision", "/patterns/{pattern_id}/{number}/proven", scope=WORK, shows=row_of(PatternRevision)),
)
def prove(call: Change, id: int, revision: int, asked: Nothing) -> Response:
    return call.answer(row(patterns.mark_proven(call.session, call.who, id, revision)))


@router.post(
    "/patterns/{id:int}/revisions/{revision:int}/no-longer-proven",
    **way(
        "Take the word back",
        "/patterns/{pattern_id}/{number}/no-longer-proven",
        scope=WORK,
        shows=row_of(PatternRevision),
    ),
)
def disprove(call: Change, id: int, revision: int, asked: NoLongerProven) -> Response:
    return call.answer(row(patterns.no_longer_proven(call.session, call.who, id, revision, asked)))


def _new(call: Call, made: PatternRevision) -> Response:
    return call.answer(row(made), location=f"/api/v1/patterns/{made.pattern_id}/revisions/{made.number}")
