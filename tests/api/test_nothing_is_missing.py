"""What is done by hand, a program can do too: every page against the ways of the API, every rule against its code."""

import ast
import inspect
from importlib import import_module
from pathlib import Path
from typing import Final

import pytest
from fastapi import FastAPI

import webapp.api
from webapp.api.application import WAYS
from webapp.shop.people import roles

# Pages that no way of the API stands for, by how their addresses begin, and why.
BY_HAND: Final = {
    "/first-run": "a shop is set up by the person in front of it",
    "/sign-in": "a program has a key instead",
    "/password-strength": "a password is chosen by the person in front of it",
    "/sign-out": "a program has a key instead",
    "/invitation/": "a person's own, by the address they were sent",
    "/me/": "a person's own account; no key may make further keys or change a password",
    "/shop/people": "people and roles: the owner's, by hand, so that no key widens what keys may do",
    "/shop/roles": "the table of roles, for reading",
    "/shop/backups": "backups: the owner's, by hand or by the command line",
    "/shop/signing-in": "how people sign in: the owner's, by hand",
    "/shop/diary": "the diary as the owner reads it; each thing's own lines stand beside it",
    "/shop/learning": "judged at the bench, with the flute in the hand",
    "/calendar/": "a calendar, by the address its person was given",
    "/flute/": "a flute's own page, by the address on its papers",
    "/status/": "the customer's page, by the address they were given",
    "/trust": "how a browser comes to trust this server",
    "/guide": "for reading",
    "/api": "this very thing, for reading; programs have openapi.json",
    "/healthz": "for those who watch the server",
    "/readyz": "for those who watch the server",
    "/metrics": "for those who watch the server",
    "/static/": "parts of pages",
    "/library/": "parts of pages",
    "/fonts/": "parts of pages",
    "/scan": "a camera's way to a page",
    "/together": "a program records each blank's step by itself",
    "/bench/{serial}/played": "calculated from sizes that a program has whole",
    "/bench/{serial}/recording": "sound is heard where the flute is",
    "/bench/{serial}/heard": "sound is heard where the flute is",
    "/bench/{serial}/way": "how the bench shows its advice",
    "/blanks/{serial}/other-keys": "calculated from sizes that a program has whole",
    "/patterns/{pattern_id}/compare": "calculated from sizes that a program has whole",
    "/patterns/{pattern_id}/{number}/": "drawn and calculated from sizes that a program has whole",
    "/stock/woods/{species_id}/figures": "a handbook's figures, drawn",
}

# The shop's rules about orders, customers, prices, dates, papers and tables: what changes something there.
MODULES: Final = {
    "customers": "orders.customers",
    "orders": "orders.rules",
    "ordered_flutes": "orders.flutes",
    "flute_price": "costs.flute_price",
    "price_customs": "orders.price_customs",
    "payments": "orders.payments",
    "billing": "billing.rules",
    "books": "billing.books",
    "promise": "scheduling.promise",
    "working_days": "scheduling.working_days",
    "repairs": "production.repairs",
    "status_page": "orders.status_page",
    "flute_pages": "flute_pages.rules",
    "parcels": "parcels.rules",
    "enquiries": "contacts.enquiries",
    "erasing": "contacts.erasing",
    "merging": "contacts.merging",
    "mails": "mails.rules",
    "shelf": "shelf.rules",
    "taking": "shelf.taking",
    "outlets": "shelf.outlets",
    "sales": "shelf.sales",
    "print_runs": "print_runs",
    "csv_import": "exchange.csv_import",
    "exporting": "exchange.exporting",
    "stock": "stock.rules",
    "boards": "wood.boards",
    "sawing": "wood.sawing",
    "counting": "stock.counting",
    "cutting_plans": "wood.plans.rules",
    "demand": "wood.plans.demand",
    "woods": "wood.species",
    "adhesives": "glue.adhesives",
    "hands": "blanks.hands",
    "costs": "costs.rules",
    "blanks": "production.opening",
    "stages": "production.stages",
    "readings": "bench.readings",
    "cuts": "bench.cuts",
    "glue_up": "glue.rules",
    "defects": "production.defects",
    "photos": "blanks.photos",
    "routings": "routings.rules",
    "routing_steps": "routings.steps",
    "workshop": "settings.workshop",
    "shop_settings": "settings.rules",
    "tools": "settings.tools",
    "patterns": "patterns.rules",
    "importing": "patterns.importing",
}
# Parts of rules, which other rules carry out.
PARTS: Final = {
    "shelf.lie": "shelf.change",
    "orders.new_order": "take_order and repairs.take",
    "orders.given_out": "take_order and repairs.take",
    "orders.open_order": "every change of an order",
    "repairs.blank_finished": "stages.record",
    "repairs.blank_reopened": "stages.take_back",
    "stock.reserve": "blanks.open_blanks",
    "stock.use": "stages, glue_up and costs",
    "stock.take_reserved": "stages.record",
    "stock.give_back": "blanks.give_up",
    "stock.move": "every movement of stock",
    "blanks.reopen_order": "blanks.give_up",
    "adhesives.bottle_of": "glue_up.spread",
    "routing_steps.change_plan": "every change of a routing's steps",
    "patterns.save_imported": "importing.import_pattern",
    "patterns.save_imported_revision": "importing.import_revision",
    "patterns.save_revision": "importing.import_revision, which takes the whole flute; a page designs it first",
    "workshop.set_minutes": "workshop.change_minutes and price_customs.change",
    "cuts.choose_way": "a person's own way at the bench",
}


def pages_of(app: FastAPI) -> list[tuple[str, str]]:
    return sorted(
        (method.upper(), path.replace(":path}", "}"))
        for path, ways in app.openapi()["paths"].items()
        for method in ways
    )


def by_hand(path: str) -> bool:
    return any(path == begins or (begins.endswith("/") and path.startswith(begins)) for begins in BY_HAND) or any(
        path.startswith(f"{begins}/") for begins in BY_HAND
    )


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_every_page_has_a_way_of_the_api_or_a_reason(app: FastAPI) -> None:
    looks = {page for way in WAYS if way.method == "GET" for page in way.pages}
    acts = {page for way in WAYS if way.method != "GET" for page in way.pages}
    missing = [
        (method, path)
        for method, path in pages_of(app)
        if not by_hand(path)
        # A page that asks for something is that something's form.
        and not (path in acts or (method == "GET" and path in looks))
    ]
    assert len(pages_of(app)) > 200
    assert not missing, missing
    # A page that is gone must not leave its name behind.
    there = {path for _, path in pages_of(app)} | {"/shop/options"}
    assert not {way.pages[0] for way in WAYS if way.pages[0] not in there}
    assert all(way.pages for way in WAYS)
    assert all(roles.deed_of(way.pages[0]) for way in WAYS if way.method != "GET")


def test_every_rule_is_called_by_the_api() -> None:
    rules = set()
    for name, where in MODULES.items():
        module = import_module(f"webapp.shop.{where}")
        for of, function in inspect.getmembers(module, inspect.isfunction):
            own = function.__module__ == module.__name__ and not of.startswith("_")
            if own and list(inspect.signature(function).parameters)[:2] == ["session", "who"]:
                rules.add(f"{name}.{of}")
    called = set()
    for file in Path(webapp.api.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                called.add(f"{node.value.id}.{node.attr}")
    assert len(rules) > 80
    assert rules - called - set(PARTS) == set()
    assert set(PARTS) <= rules - called
