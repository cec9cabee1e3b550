"""A client that a general-purpose generator makes from the API's own description, and one whole order done with it."""

import compileall
import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from importlib import import_module
from pathlib import Path
from threading import Thread
from time import monotonic, sleep
from typing import Any

import pytest
import uvicorn
from fastapi import FastAPI

from tests import blanks as made
from tests.api.programs import AT, key_of
from tests.shops import OpenShop
from webapp.api.application import WAYS, description
from webapp.models import Blank
from webapp.shop.people.tokens import Scope

NAME = "generated_shop_client"
# Files are taken as they come; problem details are JSON.
CONFIG = {
    "content_type_overrides": {
        **dict.fromkeys(
            ["application/pdf", "application/zip", "image/jpeg", "image/png", "image/webp"], "application/octet-stream"
        ),
        "application/problem+json": "application/json",
    },
    "post_hooks": [],
}


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The client's package, freshly generated."""
    folder = tmp_path_factory.mktemp("client")
    (folder / "openapi.json").write_text(json.dumps(description()))
    (folder / "config.json").write_text(json.dumps(CONFIG))
    asked = ["--path", "openapi.json", "--config", "config.json", "--meta", "none", "--output-path", NAME]
    done = subprocess.run(
        [sys.executable, "-m", "openapi_python_client", "generate", "--fail-on-warning", *asked],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(folder))
        yield folder / NAME
    for name in [name for name in sys.modules if name.partition(".")[0] == NAME]:
        del sys.modules[name]


@contextmanager
def served(app: FastAPI) -> Iterator[str]:
    """The application on a loopback port; its address."""
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="warning", lifespan="off"))
    thread = Thread(target=server.run, daemon=True)
    thread.start()
    until = monotonic() + 60
    while not server.started:
        assert thread.is_alive() and monotonic() < until, "the server did not start"
        sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join()


class Office:
    """The generated client, called by tag and operation; what is answered must be what the operation promises."""

    def __init__(self, base: str, key: str) -> None:
        client = import_module(f"{NAME}.client")
        self.client = client.AuthenticatedClient(base_url=base + AT, token=key, raise_on_unexpected_status=True)

    def __enter__(self) -> "Office":
        return self

    def __exit__(self, *_error: object) -> None:
        self.client.get_httpx_client().close()

    def do(self, tag: str, operation: str, *parts: Any, **given: Any) -> Any:
        module = import_module(f"{NAME}.api.{tag}.{operation}")
        answer = module.sync_detailed(*parts, client=self.client, **given)
        assert answer.status_code < 300, answer.content
        assert answer.parsed is not None
        return answer.parsed


def model(name: str, /, **fields: Any) -> Any:
    return getattr(import_module(f"{NAME}.models"), name).from_dict(fields)


def test_it_compiles_and_has_every_operation(generated: Path) -> None:
    assert compileall.compile_dir(generated, quiet=1)
    files = [file for file in (generated / "api").rglob("*.py") if file.name != "__init__.py"]
    assert len(files) == len(WAYS)


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
def test_it_does_one_whole_order(generated: Path, app: FastAPI, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        revision = made.pattern(session, open_shop.maker)
    key = key_of(open_shop, open_shop.owner, *Scope)
    with served(app) as base, Office(base, key) as office:
        assert office.do("shop", "get_me").name == "Ines Varga"
        customer = office.do("customers", "post_customers", body=model("NewCustomer", name="Wilmot Ashgrove"))
        take = import_module(f"{NAME}.models").TakeOrder
        asked = take(customer_id=customer.id, key="A4", species_id=open_shop.species())
        order = office.do("orders", "post_orders", body=asked, idempotency_key="order-1")
        assert (order.number, order.status, order.customer.name) == (1, "enquiry", "Wilmot Ashgrove")
        assert office.do("orders", "post_orders", body=asked, idempotency_key="order-1").number == 1
        flute = order.flutes[0].id

        def move(name: str, model_name: str = "Version", **fields: Any) -> Any:
            return office.do("orders", name, 1, body=model(model_name, version=order.version, **fields))

        order = move("patch_orders_number", "ChangeOrder", due_on="2031-05-02", note="for a left hand")
        order = move("patch_orders_number", "ChangeOrder", postage="12.50")
        assert (order.due_on, order.note, order.postage) == (date(2031, 5, 2), "for a left hand", "12.50")
        chosen = model("ChoosePattern", version=order.version, revision_id=revision)
        order = office.do("flutes", "post_orders_number_flutes_flute_pattern", 1, flute, body=chosen)
        agreed = model("PriceAsked", version=order.version, price="280.00", price_why="as agreed on the telephone")
        price = office.do("flutes", "put_orders_number_flutes_flute_price", 1, flute, body=agreed)
        assert (price.price, price.currency) == ("280.00", "EUR")
        order = office.do("orders", "get_orders_number", 1)
        assert order.total == "292.50"
        order = move("post_orders_number_quote")
        order = move("post_orders_number_confirm")
        assert order.status == "confirmed"
        papers = office.do("papers", "get_orders_number_papers", 1).items
        assert {(paper.kind, paper.number) for paper in papers} == {("order confirmation", 1), ("quote", 1)}
        paid = model("PaymentAsked", kind="deposit", amount="100.00", paid_by="cash", paid_on="2026-01-05")
        assert office.do("payments", "post_orders_number_payments", 1, body=paid).amount == "100.00"
        opened = model("OpenAsked", revision_id=revision, species_id=open_shop.species(), ordered_flute_id=flute)
        [blank] = office.do("blanks", "post_blanks", body=opened).items
        shown = office.do("blanks", "get_blanks_serial", blank.serial)
        assert (shown.order, shown.status) == (1, "in work")
        first = office.do("blanks", "post_steps_step_entries", shown.steps[0].id, body=model("RecordStep"))
        assert first.blank_id == blank.id
        # The rest of the work at the bench is long: it is done by the shop's own rules.
        with open_shop.database.write() as session:
            at_work = session.get(Blank, blank.id)
            assert at_work is not None
            made.bring_to(session, open_shop.maker, at_work, "to its end")
        order = office.do("orders", "get_orders_number", 1)
        assert order.status == "ready"
        order = move("post_orders_number_hand_over", "HandOver", unpaid=True)
        assert order.status == "handed over" and order.paid == "100.00"
        assert [line.by for line in office.do("orders", "get_orders_number_diary", 1).items][-1] == "Ines Varga"
