"""A shop with work in it, on each kind of database, with photos beside it."""

from pathlib import Path

import pytest

from tests import blanks as made
from tests.shops import OpenShop
from webapp.keeping.archive import PHOTOS
from webapp.settings import Settings


@pytest.fixture
def settings(open_shop: OpenShop, migrated_database_url: str, tmp_path: Path) -> Settings:
    """Settings of a shop with an order, an opened blank and two files among its photos."""
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, flute_id=made.order(session))
    data = tmp_path / "data"
    (data / PHOTOS / "ab").mkdir(parents=True)
    (data / PHOTOS / "ab" / "one.webp").write_bytes(b"not a picture, but bytes to keep" * 1000)
    (data / PHOTOS / "two.webp").write_bytes(b"")
    return Settings(data=data, database_url=migrated_database_url)
