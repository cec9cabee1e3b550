"""The customer's own page: opened and closed by the shop, read by whoever has its address."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Order
from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import Act, Desk, PublicView, View
from webapp.shop.base.errors import Invalid, NotFound, Refused, Stale
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
    desk.who.must_work()
    return _page(desk, orders.order_of(desk.session, number))


@router.post("/orders/{number}/status-page")
def open_page(desk: Act, number: int) -> Response:
    """Open the page or renew its address. The answer is not sent on: it alone ever shows the address."""
    desk.who.must_work()
    try:
        secret = status_page.open_page(desk.session, desk.who, number, desk.form().read(Version).version)
    except (Refused, Stale, Invalid) as error:
        desk.session.rollback()
        return _page(desk, orders.order_of(desk.session, number), 409, refused=str(error))
    address = public_address(desk, f"/status/{secret}")
    return _page(desk, orders.order_of(desk.session, number), address=address)


@router.post("/orders/{number}/status-page/close")
def close_page(desk: Act, number: int) -> Response:
    desk.who.must_work()
    try:
        status_page.close_page(desk.session, desk.who, number, desk.form().read(Version).version)
    except (Stale, Invalid) as error:
        desk.session.rollback()
        return _page(desk, orders.order_of(desk.session, number), 409, refused=str(error))
    return desk.go(f"/orders/{number}/status-page")


def _page(desk: Desk, order: Order, status: int = 200, address: str = "", refused: str = "") -> Response:
    return desk.render("orders/status_page.html", status=status, order=order, address=address, refused=refused)
