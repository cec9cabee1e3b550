"""The diary of one thing."""

from datetime import UTC, datetime

from tests.shops import OpenShop
from webapp.shop.people import diary


def test_it_is_read_by_time_the_newest_first(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        for what, day in [("paid", 3), ("taken", 1), ("opened", 2), ("quoted", 1)]:
            diary.write(session, open_shop.owner, "order", 7, what, at=datetime(2031, 5, day, tzinfo=UTC))
        diary.write(session, open_shop.owner, "order", 8, "another")
        session.flush()
        assert [entry.what for entry in diary.read(session, open_shop.owner, "order", 7)] == [
            "paid",
            "opened",
            "quoted",
            "taken",
        ]
