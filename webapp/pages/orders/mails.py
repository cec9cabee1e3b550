"""Mails about an order, drafted and opened in a person's own program; and the shop's words for them."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import MailKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.mails import rules as mails
from webapp.shop.mails.rules import FIELDS, TemplateAsked
from webapp.shop.orders import rules as orders

router = APIRouter()


@router.get("/orders/{number}/mail/{kind}")
def draft(desk: View, number: int, kind: str) -> Response:
    found = mails.draft(desk.session, desk.who, number, mails.kind_of(kind))
    order = orders.order_of(desk.session, number)
    return desk.render("mails/draft.html", order=order, draft=found, kinds=list(MailKind))


@router.get("/shop/mails/{kind}")
def ask(desk: View, kind: str) -> Response:
    return _page(desk, mails.kind_of(kind), Form(mails.as_typed(mails.template(desk.session, mails.kind_of(kind)))))


@router.post("/shop/mails/{kind}")
def change(desk: Act, kind: str) -> Response:
    which = mails.kind_of(kind)
    return desk.submit(
        lambda form: mails.change(desk.session, desk.who, which, form.read(TemplateAsked)),
        again=lambda form, status: _page(desk, which, form, status),
        to=f"/shop/mails/{kind}?said=Kept.",
    )


def _page(desk: Desk, kind: MailKind, form: Form, status: int = 200) -> Response:
    return desk.render("mails/template.html", status=status, kind=kind, kinds=list(MailKind), form=form, fields=FIELDS)
