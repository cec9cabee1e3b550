"""What ends the reading of a body goes through to whoever answers it."""

import pytest
from fastapi import APIRouter, FastAPI
from pydantic import BaseModel
from starlette.types import Message

from tests.own_loop import run
from webapp.api.frame.bodies import ApiRoute
from webapp.security.size_limit import TooLarge


class FarTooLarge(TooLarge):
    """It may live in any module."""


class Asked(BaseModel):
    name: str


def test_too_large_a_body_is_left_to_the_limit_of_size() -> None:
    router = APIRouter(route_class=ApiRoute)

    @router.post("/orders")
    def never(asked: Asked) -> None:
        raise AssertionError("the body was never read whole")

    app = FastAPI()
    app.include_router(router)

    async def receive() -> Message:
        raise FarTooLarge

    async def send(message: Message) -> None:
        """Whoever limits the size answers in its own way."""

    scope = {"type": "http", "method": "POST", "path": "/orders", "headers": [], "query_string": b""}
    with pytest.raises(TooLarge):
        run(app(scope, receive, send))
