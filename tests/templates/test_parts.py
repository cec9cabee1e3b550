"""The frame of every page, and the recurring parts."""

from types import SimpleNamespace
from typing import Any

import pytest

from tests.templates.test_fields import ENV, Page

SHOP = SimpleNamespace(name="Alder & Reed")
PERSON = SimpleNamespace(id=1, name="Ida Brandt", role="owner")


def page(source: str, **context: Any) -> Page:
    found = Page()
    context = {"shop": SHOP, "person": PERSON, "here": "rack", "notice": None, "once": "abc"} | context
    found.feed(ENV.from_string(source).render(**context))
    return found


def base(**context: Any) -> Page:
    blocks = "{% block title %}Orders{% endblock %}{% block main %}<h1>Orders</h1>{% endblock %}"
    return page('{% extends "frame/base.html" %}' + blocks, **context)


def test_every_page_has_a_language_landmarks_and_a_way_past_the_head() -> None:
    found = base()
    assert found.one("html")["lang"] == "en"
    assert found.one("a", href="#main") and found.one("main", id="main")
    assert found.one("nav")["aria-label"] and found.all("header") and found.all("footer")
    assert "Orders · Alder & Reed" in found.text


@pytest.mark.parametrize(
    ("here", "address"),
    [("rack", "/"), ("orders", "/orders"), ("glue-up", "/glue-up"), ("bench", "/bench"), ("shop", "/shop")],
)
def test_the_screen_one_is_on_is_marked_once(here: str, address: str) -> None:
    current = [attrs for attrs in base(here=here).all("a") if "aria-current" in attrs]
    assert [attrs["href"] for attrs in current] == [address]


def test_nobody_signed_in_sees_no_way_around() -> None:
    found = base(person=None, shop=None, here="sign-in")
    assert not found.all("nav") and not found.all("form")


def test_signing_out_is_a_post_and_searching_a_get() -> None:
    found = base()
    assert found.one("form", action="/sign-out")["method"] == "post"
    assert found.one("form", action="/search")["method"] == "get"


def test_a_notice_is_said_and_escaped() -> None:
    found = base(notice="Order <b>14</b> is taken.")
    assert found.one("div", role="status") and not found.all("b")


def test_a_row_of_a_list_names_its_cells_for_the_phone() -> None:
    found = page(
        '{% from "frame/_parts.html" import list_table, cell, head_cell %}'
        '{% call list_table("Orders", ["Order", ("Price", "number")]) %}'
        '<tr role="row">{{ head_cell("14") }}{{ cell("Price", none, "number") }}</tr>{% endcall %}'
    )
    assert found.one("td")["data-label"] == "Price"
    assert found.one("th", scope="row")["role"] == "rowheader"
    assert [attrs["scope"] for attrs in found.all("th", role="columnheader")] == ["col", "col"]
    assert "None" not in found.text


def test_facts_leave_out_what_is_not_known() -> None:
    found = page('{% from "frame/_parts.html" import facts %}{{ facts([("Key", "A4"), ("Lot", none), ("Note", "")]) }}')
    assert len(found.all("dt")) == 1


def test_a_shelf_says_its_count_in_words_and_an_empty_one_says_so() -> None:
    source = (
        '{% from "frame/_parts.html" import shelf, lying %}'
        '{% call shelf("Tuning", n, ["first due 3 Mar"], "Open hole 6") %}'
        '{{ lying("/blanks/7", "2026-007", "", "A4", "late", true) }}{% endcall %}'
    )
    full, bare = page(source, n=1), page(source, n=0)
    assert "1 blank" in full.text and full.one("a", href="/blanks/7")
    assert "Nothing lies here." in bare.text and not bare.all("a")
