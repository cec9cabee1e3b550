"""Ten thousand flutes that are never tuned: with the shop's hand, and with what its model leaves open of them."""

from acoustics.belief.unheard import model_error
from acoustics.errors import InvalidInput
from webapp.db import Database
from webapp.jobs.job import JobFailed
from webapp.models import Pattern, PatternRevision, Shop, SpreadRun
from webapp.shop.base.finding import find
from webapp.shop.bench import spreads
from webapp.shop.bench.readings import goals_of
from webapp.shop.learning import corrections
from webapp.shop.patterns import rules as patterns
from webapp.shop.settings import air
from webapp.shop.units import engine_words


def calculate(database: Database, run_id: int) -> None:
    """Carry a run out, as a background job: by what was learned of this pattern, or by what is stated. Raises
    JobFailed."""
    try:
        with database.read() as session:
            run = find(session, SpreadRun, run_id, "run")
            revision = find(session, PatternRevision, run.revision_id, "revision")
            flute = patterns.instrument_of(revision)
            goals = goals_of(revision, find(session, Pattern, revision.pattern_id, "pattern"))
            medium = air.played(find(session, Shop, 1, "shop"))
            knows = corrections.known(session, revision.pattern_id, flute.window.planed)
        unknown = model_error(flute, medium, {goal.fingering: goal.frequency for goal in goals}, knows.prior)
    except InvalidInput as error:
        raise JobFailed(engine_words.said(error)) from error
    spreads.calculate(database, run_id, unknown)
