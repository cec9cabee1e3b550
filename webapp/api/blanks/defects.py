"""What went wrong with blanks, where, and what was decided about it."""

from typing import Any

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.fields import Serial
from webapp.api.frame.rows import listed, made, many, model_from, model_of, row, row_of, rows
from webapp.api.frame.ways import WORK, way
from webapp.models import Blank, Defect, DefectDecision, Shop
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.blanks import state as blank_state
from webapp.shop.production import defects, new_aims, rescue
from webapp.shop.production.defects import Decide, NewCause, RecordDefect
from webapp.shop.production.rescue import Move

DefectShown = model_of("DefectShown", Defect, by_name=str, decisions=many(row_of(DefectDecision)))
DefectUndecided = model_of("DefectUndecided", Defect, serial=str)
AimShown = model_from(new_aims.Aim, "AimShown", "foot")
ChanceShown = made(
    "ChanceShown",
    "One thing that a blank could still serve",
    flute_id=(int | None, ...),
    pattern_id=(int | None, ...),
    key=(str, ...),
    scale=(str, ...),
    a4=(float, ...),
    possible=(bool, ...),
    chance=(float, ...),
    waits=(bool, ...),
)
CausesShown = listed(str)
router = ways.router("defects")


@router.get(
    "/blanks/{serial}/defects",
    **way(
        "A blank's defects, and what it could still become",
        "/blanks/{serial}/defects",
        shows=listed(DefectShown, aims=many(AimShown)),
    ),
)
def of_blank(call: Look, serial: Serial) -> Response:
    """With what it could still become: revisions whose sizes are all still within reach."""
    blank = blank_state.by_serial(call.session, serial)
    found = defects.of_blank(call.session, blank.id)
    items = [_shown(one) for one in found]
    aims = [{"revision_id": one.revision_id, "name": one.name, "key": one.key} for one in _aims(call, blank)]
    return call.answer({"items": items, "aims": aims if found else []})


@router.post(
    "/blanks/{serial}/defects",
    **way("Write a defect down", "/blanks/{serial}/defects", scope=WORK, shows=row_of(Defect), status=201),
)
def record(call: Change, serial: Serial, asked: RecordDefect) -> Response:
    blank = blank_state.by_serial(call.session, serial)
    written = defects.record(call.session, call.who, blank.id or 0, asked)
    return call.answer(row(written), location=f"/api/v1/blanks/{blank.serial}/defects")


@router.post(
    "/blanks/{serial}/defects/{defect:int}/decide",
    **way(
        "Say what is done about a defect",
        "/blanks/{serial}/defects/{defect_id}",
        scope=WORK,
        shows=row_of(DefectDecision),
        status=201,
    ),
)
def decide(call: Change, serial: Serial, defect: int, asked: Decide) -> Response:
    blank = blank_state.by_serial(call.session, serial)
    if find(call.session, Defect, defect, "defect").blank_id != blank.id:
        raise NotFound(f"Blank {blank.serial} has no such defect.")
    decided = defects.decide(call.session, call.who, defect, asked)
    return call.answer(row(decided), location=f"/api/v1/blanks/{blank.serial}/defects")


@router.get(
    "/blanks/{serial}/rescue",
    **way("What a blank that misses its key can still serve", "/blanks/{serial}/rescue", shows=listed(ChanceShown)),
)
def chances(call: Look, serial: Serial) -> Response:
    """Flutes of open orders without a blank (`waits`: not confirmed yet), and usual keys for the shelf."""
    blank = blank_state.by_serial(call.session, serial)
    found = rescue.chances(call.session, find(call.session, Shop, 1, "shop"), blank)
    items = [
        {
            "flute_id": one.flute.id if one.flute else None,
            "pattern_id": one.pattern_id,
            "key": one.sounding.key,
            "scale": one.sounding.scale,
            "a4": one.sounding.a4,
            "possible": one.becomes.possible,
            "chance": round(one.becomes.chance, 4),
            "waits": one.waits,
        }
        for one in found
    ]
    return call.answer({"items": items})


@router.post(
    "/blanks/{serial}/rescue",
    **way("Move a blank to what it can still serve", "/blanks/{serial}/rescue", scope=WORK, shows=row_of(Blank)),
)
def move(call: Change, serial: Serial, asked: Move) -> Response:
    blank = blank_state.by_serial(call.session, serial)
    return call.answer(row(rescue.move(call.session, call.who, blank.id or 0, asked)))


@router.get(
    "/defect-causes",
    **way("What can go wrong, in the trade's and the shop's words", "/yields/causes", shows=CausesShown),
)
def causes(call: Look) -> Response:
    return call.answer({"items": list(defects.causes(call.session))})


@router.post("/defect-causes", **way("Add a cause of the shop's own", "/yields/causes", scope=WORK, shows=CausesShown))
def add_cause(call: Change, asked: NewCause) -> Response:
    defects.add_cause(call.session, call.who, asked)
    return causes(call)


@router.get(
    "/defects",
    **way("Defects that nothing was decided about, grave ones first", "/yields", shows=listed(DefectUndecided)),
)
def undecided(call: Look) -> Response:
    return call.answer({"items": [row(one, serial=serial) for one, serial in defects.undecided(call.session)]})


def _aims(call: Call, blank: Any) -> Any:
    return new_aims.possible(call.session, blank) if blank.status in ("in work", "finished") else []


def _shown(one: defects.Found) -> dict[str, Any]:
    return row(one.defect, by_name=one.by, decisions=rows(each.decision for each in one.decisions))
