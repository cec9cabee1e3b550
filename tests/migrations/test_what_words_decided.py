"""What was read out of words before 0008 stands in columns after it, in a shop with rows, on both databases."""

from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from alembic import command

from webapp import db

MARCH, MAY = datetime(2026, 3, 3, 14, 20, tzinfo=UTC), datetime(2026, 5, 2, 9, 0, tzinfo=UTC)
GAUGES = {
    "Flue depth: depth gauge": "depth",
    "Length of the outside: rule": "length",
    "OUTSIDE size: calipers": "thickness",
    "Wall: calipers": "thickness",
    "Hole diameter: drill": "size",
    "Bore diameter: calipers": "width",
    "Splitting edge to foot: rule": "size",
    "": "size",
}
STEPS = [
    {"code": "flue-depth", "kind": "gauge", "gauge": "Flue depth: depth gauge", "size": {"of": "flue-depth"}},
    {"code": "own-1", "kind": "gauge", "gauge": "Thickness of the lip", "size": {"of": "fixed", "offset": 3.0}},
    {"code": "own-2", "kind": "gauge", "gauge": "Hole beside the plug", "size": {"of": "wall"}},
    {"code": "own-3", "kind": "gauge", "gauge": "Weight", "size": None},
    {"code": "own-4", "kind": "work", "gauge": "", "size": None},
]


@pytest.fixture
def old(database_url: str) -> str:
    """The URL of a shop at 0007, with blanks, gauges, a routing and a diary."""
    command.upgrade(db.alembic_config(database_url), "0007")
    engine = db.make_engine(database_url)
    with engine.begin() as connection:
        tables = sa.MetaData()
        tables.reflect(connection)

        def add(table: str, **values: object) -> None:
            known = tables.tables[table]
            needed = {c.name: _something(c) for c in known.columns if not c.nullable and c.server_default is None}
            connection.execute(sa.insert(known).values(needed | values))

        add("shop", id=1)
        add("person", id=1)
        add("species", id=1)
        add("pattern", id=1)
        add("pattern_revision", id=1, pattern_id=1, made_by=1)
        for number, status in enumerate(("firewood", "firewood", "in work", "handed over"), 1):
            add("blank", id=number, serial=f"000{number}", status=status, revision_id=1, species_id=1, opened_by=1)
        for number, (subject, subject_id, at, what) in enumerate(
            (
                ("blank", 1, MARCH, "Given up: firewood"),
                ("blank", 1, MAY, "Picture added"),
                ("blank", 3, MAY, "Given up: firewood"),  # of a blank that is in work
                ("order", 2, MAY, "Given up: firewood"),
            ),
            1,
        ):
            add("event", id=number, subject=subject, subject_id=subject_id, at=at, what=what)
        for number, gauge in enumerate(GAUGES, 1):
            add("blank_step", id=number, blank_id=1, position=number, gauge=gauge)
        add("routing", id=1)
        add("routing_version", id=1, routing_id=1, steps=STEPS)
    engine.dispose()
    return database_url


def _something(column: sa.Column[object]) -> object:
    kind = column.type.python_type
    return {int: 1, float: 1.0, bool: False, str: "", datetime: MARCH, dict: {}}.get(kind, "")


def test_words_become_columns_and_go_back(old: str) -> None:
    command.upgrade(db.alembic_config(old), "0008")
    engine = db.make_engine(old)
    with engine.connect() as connection:
        tables = sa.MetaData()
        tables.reflect(connection)
        blank, step, version = (tables.tables[name] for name in ("blank", "blank_step", "routing_version"))
        found = connection.execute(sa.select(blank.c.given_up_at).order_by(blank.c.id)).scalars().all()
        assert [at and at.replace(tzinfo=UTC) for at in found] == [MARCH, None, None, None]
        measures = dict(connection.execute(sa.select(step.c.gauge, step.c.measures)).all())
        assert measures == GAUGES
        steps = connection.execute(sa.select(version.c.steps)).scalar_one()
        assert [one.get("measures") for one in steps] == [None, "thickness", "size", None, None]
        assert [{n: v for n, v in one.items() if n != "measures"} for one in steps] == STEPS
        events = connection.execute(sa.select(sa.func.count()).select_from(tables.tables["event"])).scalar_one()
        assert events == 4
    command.downgrade(db.alembic_config(old), "0007")
    with engine.connect() as connection:
        tables = sa.MetaData()
        tables.reflect(connection)
        assert "given_up_at" not in tables.tables["blank"].c and "measures" not in tables.tables["blank_step"].c
        assert connection.execute(sa.select(tables.tables["routing_version"].c.steps)).scalar_one() == STEPS
        gauges = connection.execute(sa.select(tables.tables["blank_step"].c.gauge)).scalars().all()
        assert sorted(gauges) == sorted(GAUGES)
    engine.dispose()
