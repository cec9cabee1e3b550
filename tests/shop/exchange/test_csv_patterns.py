"""A table of patterns: the head in its columns, and a table that is read twice changes nothing."""

import pytest

from acoustics.flute.instrument import Block, Finger
from tests.shops import OpenShop
from webapp.shop.base.errors import Invalid
from webapp.shop.exchange import csv_patterns
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.revisions import stored

CELLS = {
    "name": "Sandpiper in A",
    "key": "A4",
    "scale": "minor pentatonic",
    "a4": "440",
    "temperament": "equal",
    "bore": "19.05 mm",
    "wall": "5.3 mm",
    "foot": "328.35 mm",
    "plug": "9.1 mm",
    "window_length": "6.1 mm",
    "window_width": "10.5 mm",
    "window_wall": "3.2 mm",
    "edge_height": "2.3 mm",
    "block_height": "14 mm",
    "block_width": "15 mm",
    "block_length": "48 mm",
    "block_setback": "0.5 mm",
    "finger_depth": "1 mm",
}
HOLES = ((110.68, 7.0), (132.37, 8.0), (153.92, 8.5), (182.14, 9.0), (211.63, 9.0), (242.82, 9.5))
for number, (place, across) in enumerate(HOLES, 1):
    CELLS |= {f"hole_{number}_place": f"{place} mm", f"hole_{number}_diameter": f"{across} mm"}


def take(shop: OpenShop, cells: dict[str, str]) -> csv_patterns.Fate:
    with shop.database.write() as session:
        return csv_patterns.pattern(session, shop.maker, cells, lambda error: {"": str(error)})


def test_the_head_comes_from_its_columns(open_shop: OpenShop) -> None:
    assert take(open_shop, CELLS).what == "new"
    with open_shop.database.read() as session:
        flute = patterns.instrument_of(patterns.revision_of(session, 1, 1))
    assert flute.block == Block(14.0, 15.0, 48.0, 0.5)
    assert flute.finger == Finger(1.0)
    assert (flute.window.edge_height, flute.window.planed) == (2.3, True)
    assert take(open_shop, CELLS).what == "unchanged"
    with pytest.raises(Invalid) as caught:
        take(open_shop, CELLS | {"edge_height": "3.2 mm"})
    assert "just under the wall" in " ".join(caught.value.errors.values())


def test_a_table_cannot_make_a_flat_where_a_pattern_had_none(open_shop: OpenShop) -> None:
    plain = {name: text for name, text in CELLS.items() if not name.startswith(("edge_h", "block", "finger"))}
    take(open_shop, plain)
    with open_shop.database.write() as session:
        revision = patterns.revision_of(session, 1, 1)
        document = stored(patterns.instrument_of(revision))
        del document["window"]["planed"]
        revision.instrument = document
        session.add(revision)
    assert take(open_shop, plain).what == "unchanged"
