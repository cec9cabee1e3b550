"""How much an address takes: forms little, a recording more, and neither without an end."""

import pytest

from webapp.security.size_limit import SizeLimit
from webapp.settings import Settings


async def _app(*_: object) -> None:
    raise AssertionError("not asked")


def test_each_address_has_its_limit() -> None:
    limit = SizeLimit(_app, 10, [(r"/bench/[^/]+/recording", 500)])
    assert limit.limit("/bench/0001/recording") == 500
    for path in ("/bench/0001/recording/x", "/bench/recording", "/x/bench/0001/recording", "/orders"):
        assert limit.limit(path) == 10


@pytest.mark.parametrize(("largest", "larger"), [(0, []), (10, [("/x", 0)])])
def test_a_limit_of_nothing_is_refused(largest: int, larger: list[tuple[str, int]]) -> None:
    with pytest.raises(ValueError, match="must be positive"):
        SizeLimit(_app, largest, larger)


def test_a_recording_can_not_be_allowed_more_than_the_listener_takes() -> None:
    with pytest.raises(ValueError, match="largest_recording"):
        Settings(largest_recording=65_000_000)
