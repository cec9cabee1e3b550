"""Batches of travelers as a background job: a thread of the server waits for the press's own processes."""

from webapp.db import Database
from webapp.jobs import claims
from webapp.jobs.job import JobFailed
from webapp.models import PrintedFile, PrintRun, Units
from webapp.paper.press.workers import NotPrinted, Press
from webapp.paper.traveler.content import travelers
from webapp.paper.traveler.sheet import traveler_job
from webapp.shop import print_runs


def print_batch(database: Database, run_id: int, press: Press) -> None:
    """Print a run that is written down, and keep the file with it. Raises JobFailed."""
    with database.read() as session:
        run = print_runs.run_of(session, run_id)
        found = travelers(session, print_runs.blanks_of(session, run), Units(run.units), run.address)
    jobs = [traveler_job(traveler) for traveler in found]

    def progress(done: int, _of: int) -> None:
        claims.save(database, PrintRun, run_id, done=done)

    progress(0, len(jobs))
    try:
        pdf = press.print_all(jobs, progress)
    except NotPrinted as error:
        raise JobFailed(str(error)) from error
    claims.save(database, PrintRun, run_id, PrintedFile(run_id=run_id, pdf=pdf), done=run.total, size=len(pdf))
