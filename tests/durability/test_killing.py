"""No acknowledged write is lost, and none is carried out twice, however often the server is killed under load."""

import os
from pathlib import Path

import pytest

from tests.durability.killing import kill_again_and_again
from tests.postgresql import killable_server
from tests.shops import PASSWORD, OpenShop
from webapp.db import Database, migrate
from webapp.shop.settings.setting_up import FirstRun, set_up

KILLS = {"sqlite": 40, "postgresql": 10}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_killed_again_and_again(open_shop: OpenShop, migrated_database_url: str, tmp_path: Path) -> None:
    kind = "sqlite" if migrated_database_url.startswith("sqlite") else "postgresql"
    found = kill_again_and_again(tmp_path, migrated_database_url, open_shop.maker.id, KILLS[kind], people=4)
    assert (found.lost, found.doubled, found.odd, found.unsound) == ([], [], [], [])
    assert found.acknowledged == found.sent > found.kills


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_postgresql_itself_is_killed_under_load(tmp_path: Path) -> None:
    """Whoever waits for the database meanwhile is told to send it again, and nothing that was acknowledged is gone."""
    with killable_server() as server:
        migrate(server.url)
        database = Database(server.url)
        with database.write() as session:
            person_id = set_up(session, FirstRun(shop_name="A", owner_name="B", sign_in_name="b", password=PASSWORD)).id
        database.close()
        assert person_id is not None
        found = kill_again_and_again(tmp_path, server.url, person_id, kills=6, people=4, database=server)
    assert (found.lost, found.doubled, found.odd, found.unsound) == ([], [], [], [])
    assert found.acknowledged == found.sent > found.kills == 6
