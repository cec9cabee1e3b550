"""One sheet for all final sizes of a flute, asked when its tuning ends."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank
from webapp.pages.bench.page import address
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.bench import cuts, final_sizes
from webapp.shop.bench.final_sizes import FinalSizes
from webapp.shop.blanks import state as blank_state

router = APIRouter()


@router.get("/bench/{serial}/sizes")
def show(desk: View, serial: str) -> Response:
    return _page(desk, blank_state.by_serial(desk.session, serial))


@router.post("/bench/{serial}/sizes")
def record(desk: Act, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    return desk.submit(
        lambda form: final_sizes.record(desk.session, desk.who, blank.id or 0, form.read(FinalSizes, desk.who.units)),
        again=lambda form, status: _page(desk, blank, form, status),
        to=f"{address(blank)}?said={quote('Written down. The shop learns from this flute once it is finished.')}",
    )


def _page(desk: Desk, blank: Blank, form: Form | None = None, status: int = 200) -> Response:
    sizes = final_sizes.sheet(desk.session, blank)
    return desk.render(
        "bench/sizes.html",
        status=status,
        blank=blank,
        can=final_sizes.can_be_told(blank),
        fields=[(final_sizes.field(one.control), cuts.name(one.control).capitalize(), one) for one in sizes],
        form=form or Form(final_sizes.as_typed(sizes, desk.who.units)),
    )
