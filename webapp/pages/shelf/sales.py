"""A day of sales on a phone: one form, what was sold today, a list to tick before leaving; and a sale taken back."""

from urllib.parse import quote, urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import PaidBy, ShelfSale
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.finding import find
from webapp.shop.orders import rules as orders
from webapp.shop.shelf import lists as shelf_list, outlets, sales
from webapp.shop.shelf.lists import Which
from webapp.shop.shelf.sales import SellAsked, TakeBackSale
from webapp.shop.units.keys import show_note

router = APIRouter()
TO_TAKE = (
    "Cash box with change, and whatever takes cards",
    "Care sheets and tuning records, one of each flute",
    "Labels with prices, cards of the shop",
    "Wipes: a flute that several people try is wiped between them",
    "Cloth, stand and a case for each flute; shade from the sun",
    "Papers of restricted woods",
)


@router.get("/shelf/sales")
def show(desk: View) -> Response:
    params = desk.request.query_params
    usual = {"place": params.get("place", "")[:80], "paid_by": PaidBy.CASH, "serial": params.get("serial", "")[:40]}
    return _page(desk, Form(usual))


@router.post("/shelf/sales")
def sell(desk: Act) -> Response:
    def to(sale: ShelfSale) -> str:
        place = str(desk.data.get("place", ""))[:80]
        return f"/shelf/sales?{urlencode({'place': place, 'said': 'Sold, and written down.'})}"

    return desk.submit(
        lambda form: sales.sell(desk.session, desk.who, form.read(SellAsked)),
        again=lambda form, status: _page(desk, form, status),
        to=to,
    )


@router.get("/shelf/sales/{sale_id}")
def ask_take_back(desk: View, sale_id: int) -> Response:
    return _take_back(desk, sale_id, Form())


@router.post("/shelf/sales/{sale_id}")
def take_back(desk: Act, sale_id: int) -> Response:
    return desk.submit(
        lambda form: sales.take_back(desk.session, desk.who, sale_id, form.read(TakeBackSale)),
        again=lambda form, status: _take_back(desk, sale_id, form, status),
        to=f"/shelf/sales?said={quote('Taken back: it lies on the shelf again.')}",
    )


def _page(desk: Desk, form: Form, status: int = 200) -> Response:
    today = orders.today(desk.session)
    flutes, more = shelf_list.listed(desk.session, Which.FINISHED)
    here = [one for one in flutes if one.said.outlet_id is None]
    return desk.render(
        "shelf/sales.html",
        status=status,
        form=form,
        flutes=here,
        more=more,
        choices=[
            (one.seen.blank.serial, f"{one.seen.blank.serial}: {show_note(one.seen.blank.key)}, {one.seen.wood}")
            for one in here
        ],
        ways=[(way.value, way.value.capitalize()) for way in PaidBy],
        today=[one for one in outlets.sales(desk.session, today) if one.sale.outlet_id is None],
        to_take=TO_TAKE,
        as_note=show_note,
    )


def _take_back(desk: Desk, sale_id: int, form: Form, status: int = 200) -> Response:
    sale = find(desk.session, ShelfSale, sale_id, "sale")
    return desk.render("shelf/take_back.html", status=status, sale=sale, form=form)
