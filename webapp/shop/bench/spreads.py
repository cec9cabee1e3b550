"""Ten thousand flutes of a revision, made with a shop's tolerances: started here, calculated in the background.

How far a run has come stands in the database, so that any process of the server can show it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field
from sqlmodel import Session, col, select

from acoustics.designing.tolerance import Sensitivities, Tolerances, monte_carlo, sensitivities
from acoustics.errors import InvalidInput
from webapp.db import Database
from webapp.jobs import claims
from webapp.jobs.job import JobFailed
from webapp.models import Pattern, PatternRevision, Shop, SpreadRun
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.bench.readings import goals_of
from webapp.shop.patterns import rules as patterns
from webapp.shop.people.accounts import Who
from webapp.shop.settings import air
from webapp.shop.units import engine_words
from webapp.shop.units.lengths import Length
from webapp.shop.units.sizes import between

FLUTES: Final = 10_000
_STEP: Final = 1000
"""Flutes from one note of the progress to the next."""

Small = Annotated[Length, between(0.0, 3.0)]
Degrees = Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)]
Array = NDArray[np.float64]
_USUAL = Tolerances()


class TolerancesAsked(BaseModel):
    """Standard deviations of what the shop makes, in mm, degrees for the edge, degrees C for the air."""

    foot: Small = _USUAL.foot
    bore: Small = _USUAL.bore
    wall: Small = _USUAL.wall
    stub: Small = _USUAL.stub
    window_length: Small = _USUAL.window_length
    window_width: Small = _USUAL.window_width
    window_wall: Small = _USUAL.window_wall
    edge_angle: Degrees = _USUAL.edge_angle
    edge_height: Small = _USUAL.edge_height
    block_setback: Small = _USUAL.block_setback
    hole_position: Small = _USUAL.hole_position
    hole_diameter: Small = _USUAL.hole_diameter
    temperature: Degrees = _USUAL.temperature


@dataclass(frozen=True, slots=True)
class Care:
    """How much of the variance of all notes one kind of dimension brings (0 to 1)."""

    kind: str
    share: float


def rates(session: Session, revision: PatternRevision, pattern: Pattern) -> Sensitivities:
    """Cents per 0.1 mm and per degree of every dimension for every note of the chart, in the shop's played air."""
    medium = air.played(find(session, Shop, 1, "shop"))
    return sensitivities(patterns.instrument_of(revision), medium, list(_goals(revision, pattern)))


def care(found: Sensitivities, tolerances: Tolerances) -> list[Care]:
    """Which kinds of dimension deserve care, the first most: variances add where deviations are independent."""
    shares: dict[str, float] = {}
    for dimension, cents in zip(found.dimensions, found.cents, strict=True):
        steps = tolerances.of(dimension) / (1.0 if dimension.unit == "degrees" else 0.1)
        shares[dimension.kind] = shares.get(dimension.kind, 0.0) + sum((c * steps) ** 2 for c in cents)
    shares["air"] = sum((c * tolerances.temperature) ** 2 for c in found.temperature)
    total = sum(shares.values()) or 1.0
    return [Care(kind, part / total) for kind, part in sorted(shares.items(), key=lambda s: (-s[1], s[0]))]


def latest(session: Session, revision_id: int) -> SpreadRun | None:
    """The run of a revision that was started last."""
    statement = select(SpreadRun).where(SpreadRun.revision_id == revision_id).order_by(col(SpreadRun.id).desc())
    return session.exec(statement.limit(1)).first()


def tolerances_of(run: SpreadRun | None) -> Tolerances:
    """With what tolerances a run was made; before any, the usual ones of careful work."""
    return Tolerances.from_json(run.tolerances) if run else Tolerances()


def start(session: Session, who: Who, pattern_id: int, number: int, asked: TolerancesAsked) -> SpreadRun:
    """Write down what to calculate; the caller enqueues the run. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    find(session, Pattern, pattern_id, "pattern", lock=True)
    revision = patterns.revision_of(session, pattern_id, number)
    assert revision.id is not None
    if claims.under_way(latest(session, revision.id)):
        raise Refused("Flutes of this revision are being calculated already.")
    run = SpreadRun(
        revision_id=revision.id,
        tolerances=asked.model_dump(),
        tolerance_cents=find(session, Shop, 1, "shop").tolerance_cents,
        flutes=FLUTES,
        started_by=who.id,
    )
    session.add(run)
    session.flush()
    return run


def calculate(database: Database, run_id: int, unknown: tuple[Array, Array] | None = None) -> None:
    """Carry a run out, as a background job; `unknown` is what the model leaves open of each note, mean and covariance
    [cents]. Raises JobFailed."""
    with database.read() as session:
        run = find(session, SpreadRun, run_id, "run")
        revision = find(session, PatternRevision, run.revision_id, "revision")
        goals = _goals(revision, find(session, Pattern, revision.pattern_id, "pattern"))
        medium = air.played(find(session, Shop, 1, "shop"))

    def progress(done: int, of: int) -> None:
        if done % _STEP == 0 and done < of:
            claims.save(database, SpreadRun, run_id, done=done)

    try:
        made = monte_carlo(
            patterns.instrument_of(revision),
            medium,
            goals,
            tolerances_of(run),
            run.flutes,
            run.tolerance_cents,
            progress=progress,
            unknown=unknown,
        )
    except InvalidInput as error:
        raise JobFailed(engine_words.said(error)) from error
    claims.save(database, SpreadRun, run_id, done=run.flutes, result=made.to_json())


def _goals(revision: PatternRevision, pattern: Pattern) -> Mapping[str, float]:
    return {goal.fingering: goal.frequency for goal in goals_of(revision, pattern)}
