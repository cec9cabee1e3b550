"""What a job is: a function, and the table in which its runs are written down."""

from collections.abc import Callable
from dataclasses import dataclass

from webapp.db import Database
from webapp.jobs.claims import Run


class JobFailed(Exception):
    """A job can't be carried out; its text is shown to whoever asked for it."""


@dataclass(frozen=True, slots=True)
class Job:
    """A kind of job: `work(database, run id)`, a module's own function, since a worker process finds it by its name.

    It reads what is asked from the run, and notes how far it is and what came out by `claims.save`. Whatever it raises
    is written into the run as its fault.
    """

    name: str
    work: Callable[..., None]
    table: type[Run] | None = None  # None: it has no run, and keeps its results otherwise
    newest_only: bool = False  # a run is worth nothing once a newer one is asked for
    in_thread: bool = False  # in a thread of the server, and given the queue's `helpers`; else in a worker process


def perform(job: Job, url: str, run_id: int) -> None:
    """Carry a job out in a worker process, which has a database of its own."""
    database = Database(url)
    try:
        job.work(database, run_id)
    finally:
        database.close()
