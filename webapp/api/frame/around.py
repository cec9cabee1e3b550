"""What lies around a call beside the database's session: the press, the queue of jobs, what opens files, pictures."""

from dataclasses import dataclass
from pathlib import Path

from starlette.datastructures import State

from webapp.db import Database
from webapp.decoding.workers import Workers
from webapp.jobs.queue import Queue
from webapp.paper.press.workers import Press


@dataclass(frozen=True, slots=True)
class Around:
    """The parts of the application that some calls need."""

    database: Database
    press: Press
    queue: Queue
    workers: Workers
    data: Path
    public_url: str
    largest_photo: int

    @classmethod
    def of(cls, state: State) -> "Around":
        settings = state.settings
        return cls(
            database=state.database,
            press=state.press,
            queue=state.queue,
            workers=state.workers,
            data=settings.data,
            public_url=settings.public_url or "",
            largest_photo=settings.largest_photo,
        )
