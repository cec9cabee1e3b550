"""Where a blank's wood came from: blank, halves, sawing, board, its source and papers."""

from dataclasses import dataclass

from sqlmodel import Session

from webapp.models import Blank, Sawing, Species, StockItem
from webapp.shop.base.finding import find
from webapp.shop.wood import sawing


@dataclass(frozen=True, slots=True)
class Origin:
    """The chain as far as it is on record. `halves` is none for wood that was not in stock."""

    species: Species
    halves: StockItem | None
    sawing: Sawing | None
    board: StockItem | None

    @property
    def source(self) -> str:
        """Where the wood was bought."""
        return next((lot.source for lot in (self.board, self.halves) if lot and lot.source), "")

    @property
    def papers(self) -> str:
        """The papers that show it may be used and sold."""
        return next((lot.papers for lot in (self.board, self.halves) if lot and lot.papers), "")

    @property
    def moisture(self) -> float | None:
        """The latest moisture that was read on the halves [percent]."""
        return self.halves.moisture if self.halves else None

    @property
    def papers_missing(self) -> bool:
        """Whether trade in the wood may be restricted and no papers are recorded."""
        return self.species.restricted and not self.papers


def origin_of(session: Session, blank: Blank) -> Origin:
    """The chain behind a blank."""
    species = find(session, Species, blank.species_id, "wood")
    halves = session.get(StockItem, blank.item_id) if blank.item_id else None
    came = sawing.came_from(session, halves.id) if halves and halves.id else None
    return Origin(species, halves, came[0] if came else None, came[1] if came else None)
