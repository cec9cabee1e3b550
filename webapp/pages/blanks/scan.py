"""Finding a blank by its traveler: the camera where the browser offers it, else its serial, whole or in part."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.blanks.together import address
from webapp.pages.frame import drawn
from webapp.pages.frame.desk import View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import today_of, when
from webapp.shop.blanks import lists as blank_list
from webapp.shop.production import together

router = APIRouter()


@router.get("/scan")
def scan(desk: View) -> Response:
    typed = desk.request.query_params.get("serial", "").strip()[:200]
    several = desk.request.query_params.get("together", "")
    gathered = [one for one in several.split(",") if one.isascii() and one.isdigit() and one != "0"][: together.MOST]
    form = Form({"serial": typed})
    found = blank_list.by_part_of_serial(desk.session, typed) if typed else []
    if len(found) == 1 or (found and found[0].blank.serial.lower() == typed.lower()):
        own = found[0].blank
        return desk.go(address([*map(int, gathered), own.id or 0]) if several else f"{drawn.address(own)}#now")
    today = today_of(desk.shop)
    if typed and not found:
        form.errors["serial"] = "No serial has that in it."
    drawings, scale = drawn.all_small(desk.session, found)
    return desk.render(
        "blanks/scan.html",
        status=422 if form.errors else 200,
        form=form,
        rows=found,
        several=several,
        gathered=gathered,
        drawings=drawings,
        scale=scale,
        when=lambda one: when(one, desk.shop, one.is_late(today), said_whose=True),
        late=lambda one: one.is_late(today),
    )
