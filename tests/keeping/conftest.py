"""A shop with work in it, on each kind of database, with photos beside it."""

import hashlib
from pathlib import Path

import pytest

from tests import blanks as made
from tests.shops import OpenShop
from webapp.keeping.backups.archive import PHOTOS
from webapp.models import FileKind, Photo
from webapp.settings import Settings
from webapp.shop.blanks import photo_files

PICTURES = {f"{n:032x}.jpg": f"not a picture {n}, but bytes to keep".encode() * 1000 for n in (1, 2)}


@pytest.fixture
def settings(open_shop: OpenShop, migrated_database_url: str, tmp_path: Path) -> Settings:
    """Settings of a shop with an order, an opened blank and two pictures of it."""
    data = tmp_path / "data"
    (data / PHOTOS).mkdir(parents=True)
    with open_shop.database.write() as session:
        [blank] = made.opened(session, open_shop.maker, flute_id=made.order(session))
        for name, content in PICTURES.items():
            for one in (name, photo_files.small_name(name)):
                (data / PHOTOS / one).write_bytes(content)
            sha256 = hashlib.sha256(content).hexdigest()
            kind, by = FileKind.PICTURE, open_shop.maker.id
            session.add(
                Photo(blank_id=blank.id, kind=kind, sha256=sha256, size=len(content), file_name=name, caption="", by=by)
            )
        session.commit()
    return Settings(data=data, database_url=migrated_database_url)
