"""No acknowledged write is lost, and none is carried out twice, however often the server is killed under load."""

import os
from pathlib import Path

import pytest

from tests.durability.killing import kill_again_and_again
from tests.shops import OpenShop

KILLS = {"sqlite": 40, "postgresql": 10}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_killed_again_and_again(open_shop: OpenShop, migrated_database_url: str, tmp_path: Path) -> None:
    kind = "sqlite" if migrated_database_url.startswith("sqlite") else "postgresql"
    found = kill_again_and_again(tmp_path, migrated_database_url, open_shop.maker.id, KILLS[kind], people=4)
    assert (found.lost, found.doubled, found.odd, found.unsound) == ([], [], [], [])
    assert found.acknowledged == found.sent > found.kills
