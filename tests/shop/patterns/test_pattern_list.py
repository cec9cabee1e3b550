"""The list of patterns: what it counts, and where it stops counting."""

import pytest

from tests import blanks as made
from tests.shops import OpenShop
from webapp.shop.patterns import lists as pattern_list


def test_blanks_are_counted_as_far_as_the_list_needs(open_shop: OpenShop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pattern_list, "MOST_COUNTED", 2)
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker, 2)
        made.opened(session, open_shop.maker, 4, key="G4")
        made.pattern(session, open_shop.maker, "C5")
        found = {row.pattern.key: row for row in pattern_list.listed(session)}
    assert {key: row.built for key, row in found.items()} == {"A4": "2", "G4": "over 2", "C5": "0"}
    assert found["G4"].blanks == 3  # it went no further
