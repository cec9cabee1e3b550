"""What the bench shows of the notes that were found in a recording."""

from collections.abc import Sequence
from typing import Any

from webapp.models import Shop
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.bench import hearing
from webapp.shop.bench.hearing import RoomAir, Sounded
from webapp.shop.bench.readings import Goal
from webapp.shop.units import pitches
from webapp.shop.units.keys import show_note

ROOM = ("temperature", "humidity", "warmed_up")


def recording_form(sent: Form | None, start: dict[str, Any]) -> Form:
    """The form a recording is sent with; beginning with the same air as the form of a reading."""
    form = sent or Form({name: start[name] for name in ROOM})
    form.id = "recording"
    return form


def rows(heard: Sequence[Sounded], room: Form, goals: Sequence[Goal], shop: Shop, aim: float) -> dict[str, Any] | None:
    """Each note heard with what it may be written down as; None where nothing was heard or the air is not told."""
    try:
        asked = room.read(RoomAir)
    except Invalid:
        return None
    correction = asked.correction(shop)
    found = []
    for one in heard:
        near = [] if one.overblown else hearing.within_reach(goals, one.frequency, correction)
        first = near[0] if near else None
        found.append(
            {
                "one": one,
                "note": show_note(first.goal.note) if first else "",
                "cents": first.cents if first else None,
                "word": pitches.verdict(first.cents, shop.tolerance_cents, aim).word if first else "",
                "near": [(n.goal.fingering, f"{show_note(n.goal.note)} {n.goal.fingering}", n.cents) for n in near],
            }
        )
    return {"rows": found, "room": asked, "correction": correction} if found else None
