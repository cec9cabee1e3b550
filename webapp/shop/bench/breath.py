"""What the breath does to a flute in tune: how many cents a tenth more of it is worth."""

from collections.abc import Sequence
from dataclasses import dataclass

from acoustics.blowing.sounding import USUAL_PRESSURE, Sounding, soundings
from acoustics.errors import InvalidInput
from webapp.models import Pattern, PatternRevision, Shop
from webapp.shop.bench.readings import goals_of
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.settings import air

HARDER = 0.1


@dataclass(frozen=True, slots=True)
class Worth:
    """By how many cents the notes rise where they are blown a tenth harder: the least of them and the most."""

    least: float
    most: float

    def __str__(self) -> str:
        least, most = round(self.least), round(self.most)
        cents = f"{most} cents" if least == most else f"{least} to {most} cents"
        return f"In tune at the breath at which it was played; blown 10 % harder it is {cents} sharper (jet model)."


def worth(notes: Sequence[Sounding], pressure: float = USUAL_PRESSURE) -> Worth | None:
    """At a pressure [Pa], over the notes that sound there in their own register; None where there are none."""
    rises = [rise for note in notes if (rise := note.cents_of_breath(pressure, HARDER)) is not None]
    return Worth(min(rises), max(rises)) if rises else None


def worth_of(revision: PatternRevision, pattern: Pattern, shop: Shop) -> Worth | None:
    """For a pattern's flute at the usual breath; None where its sizes give no sound."""
    chart = tuple(goal.fingering for goal in goals_of(revision, pattern))
    try:
        return worth(soundings(instrument_of(revision), air.played(shop), chart))
    except InvalidInput:
        return None
