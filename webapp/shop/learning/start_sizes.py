"""Start sizes of a revision by the shop's present spread, and why they are what they are."""

from dataclasses import dataclass

from sqlmodel import Session

from acoustics.designing.shop_spread import WORTH, ShopSpread
from acoustics.designing.starting import CHANCE, StartSizes
from webapp.models import Pattern, PatternRevision, Shop
from webapp.shop.base.finding import find
from webapp.shop.bench.first_sizes import sizes_for
from webapp.shop.learning.own_spread import own_spread
from webapp.shop.settings import air

WORTH_TELLING = 0.5  # cents that flutes stand off the model as a whole


@dataclass(frozen=True, slots=True)
class Start:
    """The sizes, and the spread in cents that they leave room for."""

    sizes: StartSizes
    spread: ShopSpread

    @property
    def source(self) -> str:
        """Where the spread comes from, and on how many flutes it rests."""
        by = f"by {self.spread.common:.1f} cents as a whole and {self.spread.each:.1f} cents in each note"
        if not self.spread.flutes:
            return (
                f"Flutes are taken to come out of their model {by} (one standard deviation; an estimate, no "
                "published source). No finished flute tells yet: one does once its foot and the cuts of "
                "every hole were written down at the bench and its notes were read at finishing."
            )
        many = "one finished flute" if self.spread.flutes == 1 else f"{self.spread.flutes} finished flutes"
        text = f"From {many} of this shop: a flute comes out of its model {by} (one standard deviation)"
        if self.is_off:
            text += f", around {abs(self.spread.off):.1f} cents {'sharp' if self.spread.off > 0 else 'flat'} of it"
        rest = f"The estimate that a new shop begins with counts like {WORTH:g} flutes beside them."
        return f"{text}. {rest}"

    @property
    def reason(self) -> str:
        """Why the sizes are what they are, in words for the bench."""
        if self.sizes.chance < CHANCE:
            kept = f"fewer than {100 * CHANCE:g} flute in 100 should turn out to be cut too far already"
        else:
            kept = (
                f"up to {100 * self.sizes.chance:.0f} flutes in 100 may turn out to be cut too far already: with such "
                "a spread some holes would have to start smaller than a hole usefully can"
            )
        return (
            "Holes only get larger and the foot only gets shorter, so each size starts on the safe side: from these, "
            f"{kept}. Opening a hole flattens the notes that keep it closed; that is taken into account."
        )

    @property
    def is_off(self) -> bool:
        """Whether this shop's flutes stand off their model as a whole, so that other finished sizes are likely."""
        return abs(self.spread.off) >= WORTH_TELLING

    def hole(self, number: int) -> tuple[float, float]:
        """First and finished diameter of a finger hole, numbered from 1 [mm]."""
        found = self.sizes.holes[number - 1]
        return found.first, found.last


def start_of(session: Session, pattern: Pattern, revision: PatternRevision, turning: float = 0.0) -> Start | None:
    """Start sizes for the flute still to be made, by the shop's present spread; None where they can't be told."""
    spread = own_spread(session, air.played(find(session, Shop, 1, "shop")))
    sizes = sizes_for(session, pattern, revision, spread, turning)
    return Start(sizes, spread) if sizes else None
