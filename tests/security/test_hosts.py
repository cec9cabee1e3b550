"""By which names the shop is answered for."""

import pytest
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from webapp.security.hosts import KnownHosts, host_name

APP = KnownHosts(Starlette(routes=[Route("/", lambda _: PlainTextResponse("here"))]), ["flutes.example"])


@pytest.mark.parametrize(
    ("host", "name"),
    [
        ("Bench:8000", "bench"),
        ("192.168.1.20:8000", "192.168.1.20"),
        ("[FE80::1]:8000", "fe80::1"),
        ("[fe80::1]", "fe80::1"),
        ("bench.local.", "bench.local"),
        ("", None),
        ("a b", None),
        ("bench:80x", None),
        ("[nothing]:80", None),
        ("[::1]x", None),
        ("bench/../x", None),
        ("user@bench", None),
    ],
)
def test_a_host_is_read_as_its_name(host: str, name: str | None) -> None:
    assert host_name(host) == name


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost:8000", 200),
        ("127.0.0.1", 200),
        ("[::1]:8000", 200),
        ("tablet-server", 200),
        ("bench.local:8000", 200),
        ("bench.home.arpa", 200),
        ("flutes.example", 200),
        ("FLUTES.example:443", 200),
        ("rebound.example", 421),
        ("flutes.example.attacker.example", 421),
        ("notlocal", 200),
        ("x.notlocal", 421),
        ("", 421),
    ],
)
def test_a_name_of_the_open_internet_is_taken_only_from_the_setting(host: str, status: int) -> None:
    assert TestClient(APP).get("/", headers={"host": host}).status_code == status
