"""Orders: the list, one order and what is done with it."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Order, PaidBy, PaymentKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import as_id
from webapp.shop.billing import numbers, rules as billing, unpaid
from webapp.shop.costs import flute_price
from webapp.shop.orders import (
    changes as order_changes,
    customers,
    fields as order_fields,
    issued,
    lists as order_list,
    money as order_money,
    payments,
    prices,
    rules as orders,
)
from webapp.shop.orders.forms import ChangeOrder, HandOver, SeenNotice, Version, Withdraw
from webapp.shop.orders.terms import notices
from webapp.shop.parcels import rules as parcels
from webapp.shop.people import amounts, diary
from webapp.shop.scheduling import promise, working_days
from webapp.shop.shelf import lists as shelf_list
from webapp.shop.units.keys import show_note
from webapp.shop.wood import species as woods

router = APIRouter()

FILTERS = [
    ("open", "Open"),
    ("due", "Due"),
    ("ready", "Ready"),
    ("enquiry", "Enquiries"),
    ("quoted", "Quoted"),
    ("confirmed", "Confirmed"),
    ("in the shop", "In the shop"),
    ("handed over", "Handed over"),
    ("withdrawn", "Withdrawn"),
    ("all", "All"),
]
UNPAID = ("unpaid", "Not paid in full")
LAST_PAGE = 1_000_000
MOVES = {
    "quote": orders.quote,
    "confirm": orders.confirm,
    "confirmation": orders.confirm_again,
}


@router.get("/orders")
def show_list(desk: View) -> Response:
    params = desk.request.query_params
    filters = [*FILTERS, UNPAID] if amounts.sees(desk.who.role, "payment.amount") else FILTERS
    show = next((name for name, _ in filters if name == params.get("show")), "open")
    owed = unpaid.unpaid(desk.session) if show == "unpaid" else None
    page = min(as_id(params.get("page", "1")) or 1, LAST_PAGE)
    today = orders.today(desk.session)
    rows, more = order_list.listed(desk.session, show, today, page, only=owed)
    return desk.render(
        "orders/list.html",
        rows=rows,
        more=more,
        page=page,
        show=show,
        filters=filters,
        owed=owed,
        today=today,
        as_note=show_note,
        expected_late=promise.expected_late(desk.session),
    )


@router.get("/orders/{number}")
def show_order(desk: View, number: int) -> Response:
    return page(desk, number)


@router.get("/orders/{number}/edit")
def ask_change(desk: View, number: int) -> Response:
    order = orders.order_of(desk.session, number)
    return _edit(desk, order, Form(amounts.visible(desk.who.role, "customer_order", order_fields.as_typed(order))))


@router.post("/orders/{number}/edit")
def change(desk: Act, number: int) -> Response:
    def again(form: Form, status: int) -> Response:
        order = orders.order_of(desk.session, number)
        if form.theirs:
            form.theirs = order_fields.both_versions(order, form.values)
            form.values["version"] = order.version
        return _edit(desk, order, form, status)

    return desk.submit(
        lambda form: orders.change_order(
            desk.session, desk.who, number, form.read(ChangeOrder, emptied=order_fields.NAMES)
        ),
        again,
        to=f"/orders/{number}",
    )


@router.post("/orders/{number}/quote")
def quote(desk: Act, number: int) -> Response:
    return move_on(desk, number, "quote")


@router.post("/orders/{number}/confirm")
def confirm(desk: Act, number: int) -> Response:
    return move_on(desk, number, "confirm")


@router.post("/orders/{number}/confirmation")
def confirm_again(desk: Act, number: int) -> Response:
    return move_on(desk, number, "confirmation")


@router.post("/orders/{number}/{move}")
def move_on(desk: Act, number: int, move: str) -> Response:
    """Quote, confirm, issue a new confirmation, withdraw, hand over, put a hand-over right."""

    def rule(form: Form) -> None:
        if move == "withdraw":
            orders.withdraw(desk.session, desk.who, number, form.read(Withdraw))
        elif move == "hand-over":
            asked = form.read(HandOver)
            orders.hand_over(desk.session, desk.who, number, asked.version, asked.unpaid)
        elif move == "seen":
            orders.seen(desk.session, desk.who, number, form.read(SeenNotice))
        elif move == "not-handed-over":
            orders.not_handed_over(desk.session, desk.who, number, form.read(Withdraw))
        elif move in MOVES:
            MOVES[move](desk.session, desk.who, number, form.read(Version).version)
        else:
            raise NotFound("Orders have no such button.")

    def again(form: Form, status: int) -> Response:
        if move == "hand-over" and "unpaid" in form.errors:
            return page(desk, number, status, unpaid=form.errors["unpaid"])
        if move not in ("withdraw", "not-handed-over"):
            return page(desk, number, status, refused=why_not(form))
        if status == 422:
            return page(desk, number, status, withdrawing=form)
        return page(desk, number, status, refused=why_not(form), withdrawing=Form(form.values))

    return desk.submit(rule, again, to=f"/orders/{number}")


def why_not(form: Form) -> str:
    """What speaks against a button's deed, in words: it has no fields beside which to say so."""
    return " ".join(form.errors.values()) or "Someone else changed this order. Look at it again before you go on."


def page(
    desk: Desk,
    number: int,
    status: int = 200,
    refused: str | None = None,
    withdrawing: Form | None = None,
    paying: Form | None = None,
    found: tuple[int, Form] | None = None,
    unpaid: str = "",
) -> Response:
    """One order with all that belongs to it. `refused` says why a button did nothing, `unpaid` asks whether it is
    handed over although something is outstanding; `withdrawing`, `paying` and
    `found` (of a repair, by its id) carry what was typed into the page's own small forms."""
    order = orders.order_of(desk.session, number)
    rows = order_list.flute_rows(desk.session, order)
    repairs = order_list.repair_rows(desk.session, order)
    today = orders.today(desk.session)
    stands = notices.of_order(desk.session, order)
    bills = billing.of_order(desk.session, order) if amounts.sees(desk.who.role, "bill.total") else []
    sums = order_money.sums_of(desk.session, order)
    kind, amount = payments.expected(desk.session, order)
    paying = paying or Form({"kind": kind.value, "amount": amount or "", "paid_on": today.isoformat()})
    paying.id = "pay"
    findings = {row.repair.id: Form({"found": row.repair.found}) for row in repairs} | dict([found] if found else [])
    for repair_id, form in findings.items():
        form.id = f"repair-{repair_id}"
    may_change = order.status in orders.OPEN and desk.who.role != "viewer"
    return desk.render(
        "orders/order.html",
        status=status,
        order=order,
        told=order_fields.facts(order),
        customer=customers.customer(desk.session, order.customer_id),
        rows=rows,
        repairs=repairs,
        chosen=flute_price.chosen(desk.session, [row.flute.id for row in rows]),
        sums=sums,
        tax=order_money.tax_of(order, order_money.usual_tax(desk.session)),
        percentage=prices.percentage,
        account=order_money.account(desk.session, order),
        ledger=payments.of_order(desk.session, order),
        stands=stands,
        differs=stands.seen_by(desk.who.role),
        next_step=order_list.next_step(order, rows, repairs, bool(stands.terms)),
        late=order.due_on is not None and order.due_on < today and order.status in orders.PROMISED,
        expected_late=promise.expected_late(desk.session),
        closed_day=order.due_on is not None
        and order.status in orders.OPEN
        and not working_days.open_days(desk.session).is_open(order.due_on),
        promised_day=promise.last(desk.session, order),
        may_change=may_change,
        parcel=(parcel := parcels.of_order(desk.session, order)),
        send_to=parcels.to_whom(desk.session, order),
        country=parcels.country_name(parcel.country),
        from_shelf=shelf_list.fitting(desk.session, rows) if may_change else {},
        issues=amounts.changes(desk.who.role, "issued_paper.content"),
        does_office=amounts.changes(desk.who.role, "payment.amount"),
        promised=order.status in orders.PROMISED,
        cautions={row.species.name: woods.cautions(row.species) for row in rows if row.species.restricted},
        papers=issued.of_order(desk.session, order),
        bills=[(bill, numbers.text(bill)) for bill in bills],
        receipts={bill.payment_id for bill in bills},
        standing=billing.standing(desk.session, order),
        may_invoice=billing.may_invoice(desk.session, order),
        today=today,
        changes=order_changes.read(desk.session, desk.who, order),
        entries=diary.read(desk.session, desk.who, "order", order.id),
        refused=refused,
        unpaid=unpaid,
        withdrawing=withdrawing or Form(),
        findings=findings,
        paying=paying,
        kinds=[(kind.value, kind.value.capitalize()) for kind in PaymentKind],
        ways=[(way.value, way.value.capitalize()) for way in PaidBy],
        as_note=show_note,
    )


def _edit(desk: Desk, order: Order, form: Form, status: int = 200) -> Response:
    return desk.render(
        "orders/edit.html",
        status=status,
        order=order,
        form=form,
        fields=[
            field for field in order_fields.FIELDS if field.name not in amounts.hidden(desk.who.role, "customer_order")
        ],
        must_say_why=order.status in order_changes.AGREED,
    )
