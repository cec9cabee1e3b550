"""What went wrong with blanks, where, and what was decided about it."""

from typing import Any

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Defect
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.blanks import state as blank_state
from webapp.shop.people.tokens import Scope
from webapp.shop.production import defects, new_aims
from webapp.shop.production.defects import Decide, NewCause, RecordDefect


def of_blank(call: Call) -> Answer:
    """With what it could still become: revisions whose sizes are all still within reach."""
    blank = blank_state.by_serial(call.session, call.text("serial"))
    found = defects.of_blank(call.session, blank.id)
    items = [_shown(one) for one in found]
    aims = [{"revision_id": one.revision_id, "name": one.name, "key": one.key} for one in _aims(call, blank)]
    return Answer({"items": items, "aims": aims if found else []})


def record(call: Call) -> Answer:
    blank = blank_state.by_serial(call.session, call.text("serial"))
    made = defects.record(call.session, call.who, blank.id or 0, call.asked(RecordDefect))
    return Answer(row(made), location=f"/api/v1/blanks/{blank.serial}/defects")


def decide(call: Call) -> Answer:
    blank = blank_state.by_serial(call.session, call.text("serial"))
    defect_id = call.number("defect")
    if find(call.session, Defect, defect_id, "defect").blank_id != blank.id:
        raise NotFound(f"Blank {blank.serial} has no such defect.")
    made = defects.decide(call.session, call.who, defect_id, call.asked(Decide))
    return Answer(row(made), location=f"/api/v1/blanks/{blank.serial}/defects")


def causes(call: Call) -> Answer:
    return Answer({"items": list(defects.causes(call.session))})


def add_cause(call: Call) -> Answer:
    defects.add_cause(call.session, call.who, call.asked(NewCause))
    return causes(call)


def undecided(call: Call) -> Answer:
    return Answer({"items": [row(one, serial=serial) for one, serial in defects.undecided(call.session)]})


def _aims(call: Call, blank: Any) -> Any:
    return new_aims.possible(call.session, blank) if blank.status in ("in work", "finished") else []


def _shown(one: defects.Found) -> dict[str, Any]:
    return row(one.defect, by_name=one.by, decisions=rows(made.decision for made in one.decisions))


_BLANK = "/blanks/{serial}/defects"
W = Scope.WORK
WAYS = [
    Way(
        "GET",
        "/defects",
        "Defects that nothing was decided about, grave ones first",
        undecided,
        shows="defect",
        listed=True,
        does=("/yields",),
    ),
    Way(
        "GET",
        _BLANK,
        "A blank's defects, and what it could still become",
        of_blank,
        shows="defect",
        listed=True,
        does=(_BLANK,),
    ),
    Way("POST", _BLANK, "Write a defect down", record, W, RecordDefect, "defect", does=(_BLANK,)),
    Way(
        "POST",
        _BLANK + "/{defect:int}/decide",
        "Say what is done about a defect",
        decide,
        W,
        Decide,
        "defect_decision",
        does=(_BLANK + "/{defect_id}",),
    ),
    Way(
        "GET",
        "/defect-causes",
        "What can go wrong, in the trade's and the shop's words",
        causes,
        shows="causes",
        does=("/yields/causes",),
    ),
    Way(
        "POST",
        "/defect-causes",
        "Add a cause of the shop's own",
        add_cause,
        W,
        NewCause,
        "causes",
        does=("/yields/causes",),
    ),
]
