"""A shop as the first schema knew it, with rows in every one of its tables."""

from typing import Any

import sqlalchemy as sa
from alembic import command
from sqlmodel import Session, SQLModel, select

from tests.blanks import bring_to, opened, order, passed, read_all
from tests.glue_ups import spread
from webapp import db
from webapp.db import Database
from webapp.models import Order, Person, Species, StockItem, StockKind, Submission
from webapp.shop.bench import cuts, spreads
from webapp.shop.bench.spreads import TolerancesAsked
from webapp.shop.blanks.state import steps_of
from webapp.shop.people import accounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.production import stages
from webapp.shop.production.stages import RecordStep, TakeBack
from webapp.shop.settings.setting_up import FirstRun, set_up
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot

FIRST = "0001"
NOTE, ASKED = "Grain runs out near the foot", "grain runs out"
Rows = dict[str, list[tuple[Any, ...]]]


def write_with_todays_program(url: str, password: str) -> str:
    """A small shop by today's rules, at the newest schema; gives the token of its owner's sign-in."""
    database = Database(url)
    with database.write() as session:
        asked = FirstRun(shop_name="Alder Lane Flutes", owner_name="Ines", sign_in_name="ines", password=password)
        person = set_up(session, asked)
        assert person.id is not None
        who = Who(person.id, person.name, person.role, asked.units)
        _work(session, who)
        session.add(Submission(key="x" * 20, person_id=who.id, went_to="/stock/1"))
        token = accounts.open_sign_in(session, session.get_one(Person, who.id), 30)
        session.commit()
    database.close()
    return token


def _work(session: Session, who: Who) -> None:
    walnut = session.exec(select(Species.id).where(Species.name == "black walnut")).one()
    lot = stock.add_lot(
        session,
        who,
        NewLot(
            kind=StockKind.HALVES, name="Walnut, halves", species_id=walnut, unit="piece", quantity=12, place="loft"
        ),
    )
    cord = StockItem(kind=StockKind.CORD, name="waxed cord", unit="m")
    session.add(cord)
    session.commit()
    flute_id = order(session)
    [tuned] = opened(session, who, flute_id=flute_id)
    diary.write(session, who, "order", session.exec(select(Order.id)).one(), "Taken")
    assert tuned.id is not None and lot.id is not None
    stock.reserve(session, who, lot.id, tuned.id, 2)
    first = steps_of(session, tuned.id)[0]
    assert first.id is not None
    entry = stages.record(session, who, first.id, RecordStep(note=NOTE))
    assert entry.id is not None
    stages.take_back(session, who, entry.id, TakeBack(why="the other blank was meant"))
    bring_to(session, who, tuned, "tuned")
    read_all(session, who, tuned, -12.0)
    cuts.record(session, who, tuned.id, cuts.RecordCut(control=2, size=7.9))
    [clamped] = opened(session, who)
    bring_to(session, who, clamped, "glue-up")
    spread(session, who, [clamped])
    [bored] = opened(session, who)
    passed(session, who, bored, "halves")
    spreads.start(session, who, 1, 1, TolerancesAsked())


def of_the_first_schema(url: str) -> list[sa.TableClause]:
    """The tables and columns that this database has now, with today's types; parents before what names them."""
    engine = db.make_engine(url)
    seen = sa.inspect(engine)
    names = set(seen.get_table_names())
    tables = []
    for table in SQLModel.metadata.sorted_tables:
        if table.name in names:
            had = [column["name"] for column in seen.get_columns(table.name)]
            tables.append(sa.table(table.name, *(sa.column(name, table.c[name].type) for name in had)))
    engine.dispose()
    return tables


def rows(url: str, tables: list[sa.TableClause]) -> Rows:
    """What these columns hold, in no order."""
    engine = db.make_engine(url)
    with engine.connect() as connection:
        found = {t.name: sorted(map(tuple, connection.execute(sa.select(t))), key=repr) for t in tables}
    engine.dispose()
    return found


def write_as_the_first_program_did(source: str, target: str) -> list[sa.TableClause]:
    """Bring `target` to the first schema and give it the rows of `source`, as far as that schema knew them."""
    command.upgrade(db.alembic_config(target), FIRST)
    tables = of_the_first_schema(target)
    kept = rows(source, tables)
    engine = db.make_engine(target)
    with engine.begin() as connection:
        for table in tables:
            names = [column.name for column in table.columns]
            some = [dict(zip(names, row, strict=True)) for row in kept[table.name]]
            connection.execute(sa.insert(table), sorted(some, key=lambda row: row.get("id", 0)))
            if engine.dialect.name == "postgresql" and "id" in names:
                connection.exec_driver_sql(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), max(id)) FROM \"{table.name}\""
                )
    engine.dispose()
    return tables
