"""The API as schemathesis sees it: calls made from its own description, many of them about things that are there."""

from typing import Any, Final

import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.strategies import booleans
from schemathesis import Case
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests import blanks as made
from tests.shops import OpenShop
from webapp.api.application import AT
from webapp.shop.people import tokens
from webapp.shop.people.tokens import Scope, TokenAsked

CHECKS: Final = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    response_headers_conformance,
]
SERIAL: Final = "0001"


def key_in(shop: OpenShop) -> str:
    """A key that may do everything, in a shop with order 1 and its blank in work."""
    with shop.database.write() as session:
        made.opened(session, shop.maker, flute_id=made.order(session))
        return tokens.make(session, shop.owner, TokenAsked(name="fuzz", scopes=list(Scope)))[1]


def fuzz(app: FastAPI, key: str, examples: int, derandomize: bool = True) -> int:
    """Call each operation so often, with bodies that fit the description and bodies that do not; how many calls.

    Raises what schemathesis finds: a fault of ours, an answer that the description does not name, or of another shape.
    """
    schema = schemathesis.openapi.from_asgi(f"{AT}/openapi.json", app)
    schema.config.generation.update(modes=[GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
    calls = 0
    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(
            max_examples=examples,
            derandomize=derandomize,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
            phases=[Phase.generate],
        )
        @given(case=operation.as_strategy(), there=booleans())
        def one(case: Case, there: bool) -> None:
            nonlocal calls
            calls += 1
            if there:
                # With an address that names something, a call gets past "there is no such thing".
                _name_what_is_there(case)
            case.call_and_validate(checks=CHECKS, headers={"authorization": f"Bearer {key}"})

        one()
    return calls


def _name_what_is_there(case: Case) -> None:
    parts: dict[str, Any] = case.path_parameters or {}
    for name in parts:
        parts[name] = SERIAL if name == "serial" else 1
