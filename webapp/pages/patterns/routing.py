"""Which routing a pattern uses, and the sizes that its steps then show."""

from itertools import groupby
from typing import Annotated

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import BaseModel, Field
from sqlmodel import col, select

from webapp.models import Pattern, PatternRevision
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.learning.start_sizes import start_of
from webapp.shop.patterns import rules as patterns
from webapp.shop.routings import rules as routings
from webapp.shop.routings.built_in import BUILT_IN, planned

router = APIRouter()
USUAL = "usual"


class RoutingChosen(BaseModel):
    """The routing a pattern uses; empty for the usual one."""

    routing_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None


@router.get("/patterns/{pattern_id}/routing")
def ask(desk: View, pattern_id: int) -> Response:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    return _page(desk, pattern, Form({"routing_id": pattern.routing_id or USUAL}))


@router.post("/patterns/{pattern_id}/routing")
def choose(desk: Act, pattern_id: int) -> Response:
    def rule(form: Form) -> Pattern:
        if form.values.get("routing_id") == USUAL:
            form.values["routing_id"] = ""
        return routings.choose(desk.session, desk.who, pattern_id, form.read(RoutingChosen).routing_id)

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, patterns.pattern_of(desk.session, pattern_id), form, status),
        to=f"/patterns/{pattern_id}/routing?said=Saved.+Blanks+that+are+open+keep+their+steps.",
    )


def _page(desk: Desk, pattern: Pattern, form: Form, status: int = 200) -> Response:
    session = desk.session
    known = routings.of_pattern(session, pattern)
    plan = routings.steps_in(routings.newest(session, known)) if known else list(BUILT_IN)
    newest = select(PatternRevision).where(PatternRevision.pattern_id == pattern.id)
    revision = session.exec(newest.order_by(col(PatternRevision.number).desc())).first()
    steps = []
    if revision:
        start = start_of(session, pattern, revision)
        sizes = start.sizes if start else None
        first = [hole.first for hole in sizes.holes] if sizes else None
        found = planned(plan, patterns.instrument_of(revision), first, sizes)
        steps = [(stage, list(members)) for stage, members in groupby(found, key=lambda one: one[0].stage)]
    return desk.render(
        "shop/routings/pattern.html",
        status=status,
        pattern=pattern,
        revision=revision,
        routing=known,
        form=form,
        choices=[
            (USUAL, "The usual one", "whichever that is when a blank is opened"),
            *[
                (one.routing.id, one.routing.name, one.routing.note)
                for one in routings.listed(session)
                if not one.routing.put_away
            ],
        ],
        steps=steps,
    )
