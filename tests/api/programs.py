"""Programs that use the API in tests: each with a key of its own, and no cookies."""

from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.api.described import assert_as_described
from tests.shops import OpenShop
from webapp.shop.people import tokens
from webapp.shop.people.accounts import Who
from webapp.shop.people.tokens import Scope, TokenAsked

AT = "/api/v1"


class Program:
    """A program with a key of its own, and no cookies."""

    def __init__(self, app: FastAPI, key: str) -> None:
        self.browser = TestClient(app)
        self.key = key

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        """JSON, or a file where the body is bytes. Whatever is answered must be as it is described."""
        sent = {"authorization": f"Bearer {self.key}", **{n.replace("_", "-"): v for n, v in headers.items()}}
        given = {"content": body} if isinstance(body, bytes) else {"json": body}
        answer = self.browser.request(method, AT + path, headers=sent, **given)
        kind = answer.headers.get("content-type", "").partition(";")[0]
        assert_as_described(method, path, answer.status_code, kind, answer.json)
        return answer


def key_of(shop: OpenShop, who: Who, *scopes: Scope) -> str:
    with shop.database.write() as session:
        return tokens.make(session, who, TokenAsked(name="label printer", scopes=list(scopes)))[1]
