"""A program whose request was carried out while the server died gets the same answer once it asks again."""

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.api.programs import AT, Program, key_of
from tests.shops import OpenShop
from webapp.api.frame.call import Changing
from webapp.shop.people.tokens import Scope


class Killed(BaseException):
    """Stands for SIGKILL: nothing of the program catches it."""


def test_a_repeat_after_a_kill_is_told_what_was_made(
    client: TestClient, app: FastAPI, open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    customer = {"name": "Wilmot Ashgrove"}
    kept = Changing.commit
    with monkeypatch.context() as patch:

        def killed(call: Changing) -> None:
            kept(call)
            raise Killed

        # All is committed; the answer never goes out.
        patch.setattr(Changing, "commit", killed)
        with pytest.raises(Killed):
            office.ask("POST", "/customers", customer, idempotency_key="one")
    again = office.ask("POST", "/customers", customer, idempotency_key="one")
    assert (again.status_code, again.headers["idempotency-replayed"]) == (201, "true")
    [known] = office.ask("GET", "/customers").json()["items"]
    assert again.json()["id"] == known["id"]
    assert again.headers["location"] == f"{AT}/customers/{known['id']}"
