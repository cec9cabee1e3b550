"""What the bench shows of the next cut, the sizes as they are, and the cuts that were made."""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sqlmodel import Session, select

from webapp.drawings.flute.at_hand import at_hand
from webapp.models import Blank, Cut, Person, Units
from webapp.pages.frame.forms import Form
from webapp.shop.advice.next_cut import Advised
from webapp.shop.bench import cuts
from webapp.shop.bench.readings import Goal
from webapp.shop.settings import tools
from webapp.shop.units.keys import show_note
from webapp.shop.units.lengths import cut_size, show_cut, show_length

HEADS = {"done": "Leave it", "cannot reach": "It can\u2019t be reached"}


def shown(advised: Advised | None, goals: Sequence[Goal], units: Units) -> dict[str, Any] | None:
    """The next step in words, with the drawing; None before there is anything to cut."""
    if advised is None:
        return None
    advised = as_calipers_show(advised, units)
    head = HEADS.get(advised.action or "", "")
    if advised.action == "measure":
        name = next((show_note(goal.note) for goal in goals if goal.fingering == advised.fingering), "")
        head = f"Play {name}"
    if advised.control is not None and advised.to is not None:
        head = f"Open hole {advised.control} to" if advised.control else "Shorten the foot to"
    drawing = at_hand(advised.flute, advised.control) if advised.flute is not None else None
    return {
        "head": head,
        "step": advised,
        "drawing": drawing,
        "why": true_minus(advised.why),
        "left": left(advised),
    }


def as_calipers_show(advised: Advised, units: Units) -> Advised:
    """The same advice with a size that can be measured: what is read, offered and written down is one size."""
    if advised.to is None:
        return advised
    return replace(advised, to=cut_size(advised.to, units, grows=bool(advised.control)))


MARKS = 5  # drills offered at a cut


def drill_marks(session: Session, advised: Advised | None) -> list[tuple[str, str]]:
    """The drills on the rack by which the advised hole may be opened, up to a little beyond the advice: the size to be
    written down, and what the drill is called."""
    if advised is None or not advised.control or advised.start is None or advised.to is None:
        return []
    beyond = advised.to + tools.SAME_DRILL
    fitting = [one for one in tools.drills(session) if advised.start < one.diameter <= beyond]
    return [(f"{one.diameter:.5f} mm", one.label) for one in fitting[-MARKS:]]


def left(advised: Advised) -> str:
    """The work that is expected to the end."""
    work = advised.left
    if work is None:
        return ""
    some = [
        f"{count} {one if count == 1 else many}"
        for count, one, many in ((work.cuts, "cut", "cuts"), (work.readings, "reading", "readings"))
        if count
    ]
    return f"About {' and '.join(some)} to go." if some else ""


def true_minus(why: str) -> str:
    """The sentence with true minus signs before its numbers."""
    return re.sub(r"(?<![\w.])-(?=\d)", "\N{MINUS SIGN}", why)


def form(sent: Form | None, advised: Advised | None, units: Units) -> Form:
    """The form of a cut that was made, beginning with what was advised."""
    found = sent or Form()
    if sent is None and advised is not None and advised.control is not None and advised.to is not None:
        size = as_calipers_show(advised, units).to
        assert size is not None
        found = Form({"control": advised.control, "size": show_length(size, units, exact=True)})
    found.id = "cut"
    return found


def sizes(session: Session, blank: Blank, made: Sequence[Cut], units: Units) -> list[tuple[int, str]]:
    """Each hole and the foot with its size now, to choose from."""
    now = cuts.after(cuts.at_first(session, blank), made)
    told = [(i, "not known" if size is None else show_cut(size, units)) for i, size in enumerate(now)]
    return [(i, f"{cuts.name(i).capitalize()}, now {words}") for i, words in [*told[1:], told[0]]]


def rows(session: Session, made: Sequence[Cut]) -> list[dict[str, Any]]:
    """All cuts, newest first, those taken back with the reason."""
    if not made:
        return []
    people = dict(session.exec(select(Person.id, Person.name)).all())
    gone = {cut.corrects_id: cut for cut in made if cut.taken_back}
    return [
        {
            "cut": cut,
            "what": cuts.name(cut.control).capitalize(),
            "by": people.get(cut.by, ""),
            "gone": gone.get(cut.id),
        }
        for cut in reversed(made)
        if not cut.taken_back
    ]
