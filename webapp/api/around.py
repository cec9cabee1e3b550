"""What lies around a call beside the database's session: the press, the reckoner, the folder of pictures."""

from dataclasses import dataclass
from pathlib import Path

from starlette.datastructures import State

from webapp.db import Database
from webapp.paper.press.workers import Press
from webapp.paper.traveler.batches import Batches
from webapp.reckoner import Reckoner


@dataclass(frozen=True, slots=True)
class Around:
    """The parts of the application that some calls need."""

    database: Database
    press: Press
    batches: Batches
    reckoner: Reckoner
    data: Path
    public_url: str
    largest_photo: int

    @classmethod
    def of(cls, state: State) -> "Around":
        settings = state.settings
        return cls(
            database=state.database,
            press=state.press,
            batches=state.batches,
            reckoner=state.reckoner,
            data=settings.data,
            public_url=settings.public_url or "",
            largest_photo=settings.largest_photo,
        )
