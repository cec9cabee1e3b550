"""Every form that the pages of a shop at work offer, filled in by chance: never a fault of ours."""

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings

from tests import blanks as made
from tests.fuzz.pages import FoundForm, forms, links, sent
from tests.pages.frame.test_nothing_breaks import addresses, named
from tests.shops import OpenShop

EXAMPLES = 2
DEEP = 1  # 2: where these pages lead too, which takes twice as long and offers hardly more
# They would end the visit; and a backup runs beside the request.
LEFT_OUT = ("/sign-out", "/me/sign-out", "/shop/backups")
NO_PAGES = (".pdf", ".zip", ".json", ".csv", ".ics", ".svg", ".dxf", ".jpg", ".crt", ".tar")


def found_forms(client: TestClient, app: FastAPI) -> list[FoundForm]:
    """Of every address with something behind it, and of where those lead; each kind of form once."""
    found: dict[tuple[str, ...], FoundForm] = {}
    leads = {named(path) for path in addresses(app, "get")}
    seen: set[str] = set()
    for _ in range(DEEP):
        further: set[str] = set()
        for address in sorted(leads - seen):
            if address.partition("?")[0].endswith(NO_PAGES):
                continue
            answer = client.get(address)
            assert answer.status_code < 500, address
            if answer.headers.get("content-type", "").startswith("text/html"):
                further |= links(answer.text)
                for form in forms(answer.text, answer.url.path):
                    found.setdefault(form.mark, form)
        seen |= leads
        leads = further
    return [form for form in found.values() if not form.action.startswith(LEFT_OUT)]


def fuzz(client: TestClient, form: FoundForm, examples: int) -> None:
    """Send it so often; an answer that is a fault of ours fails."""

    @settings(
        max_examples=examples,
        derandomize=True,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
    )
    @given(data=sent(form))
    def one(data: dict[str, list[str]]) -> None:
        files = {"file": ("", b"")} if "multipart" in form.encoding else None
        answer = client.post(form.action, data=data, files=files, follow_redirects=False)
        assert answer.status_code < 500, (form.action, data, answer.text[-600:])

    one()


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_no_form_breaks_whatever_is_sent(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, flute_id=made.order(session))
    offered = found_forms(client, app)
    assert len(offered) > 60
    for form in offered:
        fuzz(client, form, EXAMPLES)
