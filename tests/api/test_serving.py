"""What ends the reading of a body goes through to whoever answers it."""

import asyncio

import pytest
from starlette.requests import Request
from starlette.types import Message

from webapp.api.around import Around
from webapp.api.serving import serve
from webapp.api.ways import Answer, Call, Way
from webapp.security.size_limit import TooLarge


class FarTooLarge(TooLarge):
    """It may live in any module."""


def _never(call: Call) -> Answer:
    raise AssertionError("the body was never read whole")


def test_too_large_a_body_is_left_to_the_limit_of_size() -> None:
    async def receive() -> Message:
        raise FarTooLarge

    way = Way("POST", "/orders", "Take an order", _never, does=("/orders",))
    request = Request(
        {"type": "http", "method": "POST", "path": "/orders", "headers": [], "query_string": b""}, receive
    )
    around = Around.__new__(Around)
    with pytest.raises(TooLarge):
        asyncio.run(serve(way, around, request))
