"""A count sheet for many lots at once, and the purchase list."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import StockKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.papers import pdf, press
from webapp.pages.frame.patience import waits
from webapp.pages.frame.rendering import show_money
from webapp.pages.stock.stock import KINDS
from webapp.paper.shelf.shelf_sheets import count_job, purchase_job
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import as_id
from webapp.shop.costs import rules as costs
from webapp.shop.stock import counting, lists as stock_list
from webapp.shop.stock.counting import Counted
from webapp.shop.stock.forms import Counting
from webapp.shop.units.rough import rough_length
from webapp.shop.wood.plans import purchases

router = APIRouter()


@router.get("/stock/count")
def ask_counts(desk: View) -> Response:
    return _sheet(desk, _kind(desk.request.query_params.get("kind")), Form())


@router.post("/stock/count")
def count(desk: Act) -> Response:
    return desk.submit(
        lambda form: counting.count_sheet(desk.session, desk.who, _lines(form)),
        again=lambda form, status: _sheet(desk, _kind(form.values.get("kind")), form, status),
        to=_counted,
    )


def _counted(made: Counted) -> str:
    lots = "1 lot is" if made.lots == 1 else f"{made.lots} lots are"
    differed = "none differed" if not made.differed else f"{made.differed} differed"
    return f"/stock?said={lots} counted, {differed}.".replace(" ", "+")


@router.get("/stock/count.pdf")
@waits
def printed_counts(desk: View) -> Response:
    kind = _kind(desk.request.query_params.get("kind"))
    words = dict(KINDS)[kind] if kind else ""
    return pdf(press(desk).print(count_job(desk.session, desk.shop, kind, words.lower())), "count-sheet")


@router.get("/stock/to-buy")
def to_buy(desk: View) -> Response:
    return desk.render(
        "stock/to_buy.html",
        groups=purchases.lots_to_buy(desk.session),
        wood=purchases.wood_short(desk.session),
        share=purchases.sawing_yield(desk.session),
        amount=stock_list.show_quantity,
        rough=lambda mm: rough_length(mm, desk.who.units),
        prices=costs.may_see(desk.who),
    )


@router.get("/stock/to-buy.pdf")
@waits
def printed_list(desk: View) -> Response:
    currency = desk.shop.currency
    prices = (lambda amount: show_money(amount, currency)) if costs.may_see(desk.who) else None
    return pdf(press(desk).print(purchase_job(desk.session, desk.shop, desk.who.units, prices)), "to-buy")


def _kind(text: object) -> StockKind | None:
    return next((kind for kind, _ in KINDS if kind == text), None)


def _lines(form: Form) -> list[Counting]:
    """The lines that are filled in. Raises Invalid with the lot's number at each field."""
    found: list[Counting] = []
    wrong: dict[str, str] = {}
    for name, text in form.values.items():
        item_id = as_id(name.removeprefix("counted_")) if name.startswith("counted_") else None
        if item_id is None or text == "":
            continue
        line = Form(
            {
                "item_id": str(item_id),
                "counted": text,
                "why": form.values.get(f"why_{item_id}", ""),
                "said": form.values.get(f"said_{item_id}", ""),
            }
        )
        try:
            found.append(line.read(Counting))
        except Invalid as error:
            wrong |= {f"{field}_{item_id}": words for field, words in error.errors.items()}
    if wrong:
        raise Invalid(wrong)
    return found


def _sheet(desk: Desk, kind: StockKind | None, form: Form, status: int = 200) -> Response:
    lots = counting.sheet(desk.session, kind)
    labels = {f"counted_{lot.item.id}": lot.item.name for lot in lots}
    labels |= {f"why_{lot.item.id}": lot.item.name for lot in lots}
    return desk.render(
        "stock/count.html",
        status=status,
        form=form,
        kinds=KINDS,
        kind=kind,
        lots=lots,
        labels=labels,
        full=len(lots) == counting.MOST_LINES,
        amount=stock_list.show_quantity,
    )
