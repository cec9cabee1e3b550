"""The customer's own page: opened and closed by the shop, read by whoever has its address."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import Act, Desk, PublicView, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import NotFound
from webapp.shop.orders import rules as orders, status_page
from webapp.shop.orders.forms import Version

router = APIRouter()

# Besides what every answer carries: nothing of the address goes anywhere, and no search engine keeps it.
QUIET = {"referrer-policy": "no-referrer", "x-robots-tag": "noindex, nofollow, noarchive", "cache-control": "no-store"}


@router.get("/status/{secret}")
def look(desk: PublicView, secret: str) -> Response:
    try:
        seen, status = status_page.look(desk.session, secret), 200
    except NotFound:
        seen, status = None, 404
    answer = desk.render("orders/follow.html", status=status, seen=seen, stages=status_page.STAGES)
    answer.headers.update(QUIET)
    return answer


@router.get("/orders/{number}/status-page")
def show(desk: View, number: int) -> Response:
    return _page(desk, number, Form())


@router.post("/orders/{number}/status-page")
def open_page(desk: Act, number: int) -> Response:
    """Open the page or give it a new address. The browser is not sent on: this answer alone ever shows the address."""
    return desk.submit(
        lambda form: status_page.open_page(desk.session, desk.who, number, form.read(Version).version),
        again=lambda form, status: _page(desk, number, form, status),
        to=lambda secret: _page(desk, number, Form(), address=public_address(desk, f"/status/{secret}")),
    )


@router.post("/orders/{number}/status-page/close")
def close_page(desk: Act, number: int) -> Response:
    return desk.submit(
        lambda form: status_page.close_page(desk.session, desk.who, number, form.read(Version).version),
        again=lambda form, status: _page(desk, number, form, status),
        to=f"/orders/{number}/status-page",
    )


def _page(desk: Desk, number: int, form: Form, status: int = 200, address: str = "") -> Response:
    order = orders.order_of(desk.session, number)
    return desk.render("orders/status_page.html", status=status, order=order, address=address, form=form)
