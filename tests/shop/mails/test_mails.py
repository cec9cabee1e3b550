"""Mails are drafted in the shop's words and opened by a mailto: link (RFC 6068); no amount for those who see none."""

from collections.abc import Iterator
from urllib.parse import parse_qs, urlsplit

import pytest
from sqlmodel import Session, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Customer, MailKind
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Stale
from webapp.shop.mails import rules as mails
from webapp.shop.mails.rules import FIELDS, USUAL, TemplateAsked


@pytest.fixture
def session(open_shop: OpenShop) -> Iterator[Session]:
    with open_shop.database.write() as session:
        made.order(session)
        yield session


def test_a_draft_is_filled_from_the_order_and_opens_word_for_word(session: Session, open_shop: OpenShop) -> None:
    session.exec(select(Customer)).one().contact = "0555 0100, rosa+flutes@mail.invalid"
    asked = TemplateAsked(
        subject="Order {order} & more?", body="Dear {customer},\n{flutes}: {total}, {due}. 100 % {{yours}}", version=0
    )
    mails.change(session, open_shop.office, MailKind.QUOTE, asked)
    draft = mails.draft(session, open_shop.office, 1, MailKind.QUOTE)
    assert draft.body == (
        "Dear Rosa Lindqvist,\na flute in A4, minor pentatonic: €300.00, Friday, 2 May 2031. 100 % {yours}"
    )
    assert (draft.to, draft.lacks) == ("rosa+flutes@mail.invalid", ())
    opened = urlsplit(draft.open)
    assert (opened.scheme, opened.path) == ("mailto", "rosa%2Bflutes@mail.invalid")
    assert parse_qs(opened.query, strict_parsing=True) == {
        "subject": ["Order 1 & more?"],
        "body": [draft.body.replace("\n", "\r\n")],
    }
    assert "+" not in draft.open, "a plus would be read as such, not as a space"
    seen = mails.draft(session, open_shop.maker, 1, MailKind.QUOTE)
    assert "300" not in seen.body and seen.lacks == ("what it comes to",)


def test_every_kind_that_a_shop_begins_with_can_be_filled(session: Session, open_shop: OpenShop) -> None:
    assert set(USUAL) == set(MailKind)
    for kind in MailKind:
        draft = mails.draft(session, open_shop.owner, 1, kind)
        assert "{" not in draft.subject + draft.body and "Alder Lane Flutes" in draft.body
    assert mails.draft(session, open_shop.owner, 1, MailKind.SHIPPED).lacks == (FIELDS["carrier"], FIELDS["tracking"])
    with pytest.raises(NotFound):
        mails.draft(session, open_shop.owner, 7, MailKind.READY)
    with pytest.raises(NotFound):
        mails.kind_of("threat")


@pytest.mark.parametrize(
    "text", ["{price}", "{customer.__class__}", "{order!r}", "{order:>99999999}", "{0}", "{}", "{"]
)
def test_what_is_no_field_is_refused_at_its_field(session: Session, open_shop: OpenShop, text: str) -> None:
    with pytest.raises(Invalid) as caught:
        asked = TemplateAsked(subject="Order", body=f"Dear {text}", version=0)
        mails.change(session, open_shop.office, MailKind.READY, asked)
    assert set(caught.value.errors) == {"body"}


def test_words_are_the_offices_and_a_stale_edit_is_refused(session: Session, open_shop: OpenShop) -> None:
    asked = TemplateAsked(subject="Ready", body="It is.", version=0)
    with pytest.raises(NotAllowed):
        mails.change(session, open_shop.maker, MailKind.READY, asked)
    mails.change(session, open_shop.office, MailKind.READY, asked)
    with pytest.raises(Stale):
        mails.change(session, open_shop.office, MailKind.READY, asked)
    assert mails.template(session, MailKind.READY).body == "It is."
