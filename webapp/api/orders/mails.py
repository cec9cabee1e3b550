"""Mails about an order as drafts, and the shop's words for them. Nothing is sent."""

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Change, Look
from webapp.api.frame.rows import model_from, row, row_of, said
from webapp.api.frame.ways import OFFICE, way
from webapp.models import MailKind, MailTemplate
from webapp.shop.mails import rules as mails
from webapp.shop.mails.rules import Draft, TemplateAsked

DraftShown = model_from(Draft, "DraftShown")
router = ways.router("mails")


@router.get(
    "/orders/{number:int}/mails/{kind}",
    **way("A mail about an order, drafted", "/orders/{number}/mail/{kind}", shows=DraftShown),
)
def draft(call: Look, number: int, kind: MailKind) -> Response:
    return call.answer(said(mails.draft(call.session, call.who, number, kind)))


@router.get(
    "/mail-templates/{kind}", **way("The words of a kind of mail", "/shop/mails/{kind}", shows=row_of(MailTemplate))
)
def show(call: Look, kind: MailKind) -> Response:
    found = mails.template(call.session, kind)
    return call.answer(row(found), found.version)


@router.put(
    "/mail-templates/{kind}",
    **way("Change them", "/shop/mails/{kind}", scope=OFFICE, shows=row_of(MailTemplate)),
)
def change(call: Change, kind: MailKind, asked: TemplateAsked) -> Response:
    found = mails.change(call.session, call.who, kind, asked)
    return call.answer(row(found), found.version)
