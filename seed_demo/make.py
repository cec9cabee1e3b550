"""Makes the demo shop: the same people, flutes and measurements each time, on days counted back from today.

Everything is done through the shop's own rules on a clock set back, so nothing stands in the demo that the
program itself would refuse.
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from random import Random

from sqlalchemy import event
from sqlmodel import Session, col, select

from acoustics.designing.design import DesignRequest, design
from seed_demo import flaws, history, office, routings, scenario, shelf, timing
from seed_demo.wood import lay_in_boards
from seed_demo.work import Bench, walk
from webapp.db import Database, migrate
from webapp.models import (
    Blank,
    BlankStatus,
    Drill,
    Order,
    OrderedFlute,
    OrderStatus,
    Pattern,
    PatternRevision,
    Shop,
    Species,
    StockItem,
    StockKind,
    Units,
    at,
    now,
)
from webapp.models.search import searching
from webapp.shop.learning import corrections
from webapp.shop.orders import customers, rules as orders
from webapp.shop.orders.forms import TakeOrder
from webapp.shop.patterns.revisions import stored
from webapp.shop.people import accounts
from webapp.shop.people.accounts import Who
from webapp.shop.production import opening as blanks
from webapp.shop.settings.setting_up import FirstRun, set_up
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot

OWNER = scenario.OWNER
SEED = 1851
FIRST_DAY = -372


def make_demo(url: str, password: str, today: datetime | None = None) -> None:
    """Fill the empty database at `url` with the invented shop. Everyone in it has the given password."""
    migrate(url)
    database = Database(url)
    if database.engine.dialect.name == "sqlite":
        # Nothing is lost with a demo that is cut short: it is made again. So the disk need not be waited for.
        event.listen(database.engine, "connect", lambda driver, _: driver.execute("PRAGMA synchronous = OFF"))
    # No screen is open that would have to know of each change.
    with Session(database.engine.execution_options(writes=True), expire_on_commit=False) as session:
        _keep_in_mind(session)
        session.info[searching.LATER] = True
        make_shop(session, password, today or datetime.now(UTC))
        del session.info[searching.LATER]
        session.commit()
    corrections.bring_up(database)
    database.close()


def _keep_in_mind(session: Session) -> None:
    """Hold what was read or written until the demo is made: nobody else changes it, so nothing is asked for twice."""
    kept = []
    event.listen(session, "loaded_as_persistent", lambda _, row: kept.append(row))
    event.listen(session, "pending_to_persistent", lambda _, row: kept.append(row))


def make_shop(session: Session, password: str, today: datetime) -> None:
    """The whole shop, in a session over an empty, migrated database."""
    with at(_day(today, FIRST_DAY)):
        owner = _open_shop(session, password)
        makers = [owner]
        for name, sign_in_name, role in scenario.PEOPLE:
            person = accounts.add_person(session, owner, name, sign_in_name, password, role)
            assert person.id is not None
            if role.value == "maker":
                makers.append(Who(person.id, person.name, person.role, Units.INCH))
        _fill_shelves(session, owner)
        flaws.stand_glue_on_the_shelf(session, owner, today)
        office.set_customs(session, owner)
        patterns = {plan[0]: _pattern(session, owner, *plan) for plan in scenario.PATTERNS}
        history.set_calendar(session, owner, makers, today)
    past = history.Past(session, owner, makers, patterns, today)
    bench = Bench(session, makers, Random(SEED), today)  # noqa: S311  (scatter for a demo, no secret)
    plan: list[scenario.Wanted | scenario.Batch] = [*scenario.ORDERS, *scenario.FOR_THE_SHELF]
    for item in sorted(plan, key=lambda item: item.taken):
        revision = patterns[item.pattern]
        past.until(item.taken - 1)
        if isinstance(item, scenario.Wanted):
            _order(bench, owner, item, revision)
        else:
            _for_the_shelf(bench, owner, item, revision)
    with at(today):
        _vouch(session, owner, patterns)
        routings.a_second_routing(session, owner, "Wren in C")
        routings.hand_out(session, owner, makers)
    flaws.go_wrong(session, owner, makers, today)
    lay_in_boards(session, owner, today)
    office.keep_the_books(session, owner, today)
    shelf.fill(session, owner, today)
    timing.watch_the_clock(session, makers, today)


def _day(today: datetime, days: int) -> datetime:
    """Eight in the morning, so many days from today; today itself counts from an hour ago."""
    moment = (today + timedelta(days=days)).replace(hour=8, minute=0, second=0, microsecond=0)
    return min(moment, today - timedelta(hours=1))


def _open_shop(session: Session, password: str) -> Who:
    asked = FirstRun(
        shop_name=scenario.SHOP_NAME,
        owner_name=scenario.OWNER_NAME,
        sign_in_name=OWNER,
        password=password,
        units=Units.INCH,
        currency="USD",
        timezone="UTC",
    )
    person = set_up(session, asked, is_demo=True)
    shop = session.get(Shop, 1)
    assert shop is not None and person.id is not None
    shop.serial_prefix, shop.next_serial, shop.next_order, shop.clamp_places = "TQ-", 141, 57, 8
    session.add(shop)
    session.commit()
    return Who(person.id, person.name, person.role, Units.INCH)


def _fill_shelves(session: Session, owner: Who) -> None:
    woods = {species.name: species.id for species in session.exec(select(Species))}
    for lot in scenario.HALVES:
        asked = NewLot(
            kind=StockKind.HALVES,
            name=f"{lot.wood}, halves",
            species_id=woods[lot.wood],
            unit="piece",
            length=lot.length,
            width=38.0,
            thickness=19.0,
            moisture=lot.moisture,
            unit_cost=Decimal(lot.cost),
            reorder_at=8,
            place=lot.place,
            quantity=lot.count,
            note="Milled and left to settle in the shop",
        )
        stock.add_lot(session, owner, asked)
    for kind, name, wood, unit, quantity, cost, reorder_at, place in scenario.SUPPLIES:
        asked = NewLot.model_validate(
            {
                "kind": kind,
                "name": name,
                "species_id": woods[wood] if wood else None,
                "unit": unit,
                "unit_cost": cost,
                "reorder_at": reorder_at,
                "place": place,
                "quantity": quantity,
            }
        )
        stock.add_lot(session, owner, asked)


def _pattern(session: Session, owner: Who, name: str, key: str, scale: str, holes: int) -> PatternRevision:
    """A pattern designed by the engine for the shop's own drills."""
    drills = [drill.diameter for drill in session.exec(select(Drill).order_by(col(Drill.diameter)))]
    asked = {"key": key, "scale": scale, "holes": holes, "drills": drills}
    found = design(DesignRequest.from_json(asked))
    document = found.to_json()
    pattern = Pattern(name=name, key=key, scale=scale, holes=holes, created_at=now())
    session.add(pattern)
    session.flush()
    assert pattern.id is not None
    revision = PatternRevision(
        pattern_id=pattern.id,
        instrument=stored(found.instrument),
        request=asked,
        notes=document["notes"],
        warnings=document["warnings"],
        made_at=now(),
        made_by=owner.id,
    )
    session.add(revision)
    session.commit()
    return revision


def _for_the_shelf(bench: Bench, owner: Who, batch: scenario.Batch, revision: PatternRevision) -> None:
    moment = _day(bench.today, batch.taken)
    with at(moment):
        opened = _open(bench.session, owner, revision, batch.wood, None, len(batch.blanks))
    walk(bench, list(zip(opened, batch.blanks, strict=True)), moment + timedelta(hours=1))


def _order(bench: Bench, owner: Who, wanted: scenario.Wanted, revision: PatternRevision) -> None:
    session, today = bench.session, bench.today
    pattern = session.get(Pattern, revision.pattern_id)
    wood = session.exec(select(Species).where(Species.name == wanted.wood)).one()
    assert pattern is not None and wood.id is not None
    taken = _day(today, wanted.taken)
    early = wanted.status in (OrderStatus.ENQUIRY, OrderStatus.QUOTED)
    asked = TakeOrder.model_validate(
        {
            "customer_name": wanted.customer,
            "customer_id": _known(session, wanted.customer),
            "contact": wanted.contact,
            "status": wanted.status if early else OrderStatus.CONFIRMED,
            "key": pattern.key,
            "scale": pattern.scale,
            "holes": pattern.holes,
            "species_id": wood.id,
            "reach": wanted.reach,
            "extras": wanted.extras,
            "extras_price": wanted.extras_price if wanted.extras else None,
            "price": wanted.price,
            "due_on": _due(today, wanted.due),
            "note": wanted.note,
            "count": max(1, sum(end != "firewood" for end in wanted.blanks)),
        }
    )
    with at(taken):
        order = orders.take_order(session, owner, asked)
    if not wanted.blanks:
        return
    flutes = orders.flutes_of(session, order)
    opened_at = min(taken + timedelta(days=1), today - timedelta(minutes=50))
    batch = []
    with at(opened_at):
        takers = iter(flutes)
        last: OrderedFlute | None = None
        for end in wanted.blanks:
            # A blank that ends as firewood is made good by the next one, for the same flute.
            last = last if last is not None else next(takers)
            [blank] = _open(session, owner, revision, wanted.wood, last.id, 1)
            batch.append((blank, end))
            last = last if end == "firewood" else None
    walk(bench, batch, opened_at + timedelta(hours=1))
    if wanted.status is OrderStatus.HANDED_OVER:
        _hand_over(bench, owner, order)


def _hand_over(bench: Bench, owner: Who, order: Order) -> None:
    """Handed over some days after the last flute was finished."""
    session = bench.session
    done = [
        blank.finished_at
        for flute in orders.flutes_of(session, order)
        for blank in session.exec(select(Blank).where(Blank.ordered_flute_id == flute.id))
        if blank.finished_at
    ]
    session.refresh(order)
    fetched = min(max(done) + timedelta(days=bench.dice.randint(2, 6)), bench.today)
    office.pay(session, owner, order, bench.today, Random(order.number), fetched)  # noqa: S311  (scatter for a demo, no secret)
    with at(fetched):
        orders.hand_over(session, owner, order.number, order.version)


def _open(
    session: Session, owner: Who, revision: PatternRevision, wood: str, flute_id: int | None, count: int
) -> list[Blank]:
    species = session.exec(select(Species).where(Species.name == wood)).one()
    lot = session.exec(
        select(StockItem).where(StockItem.kind == StockKind.HALVES, StockItem.species_id == species.id)
    ).one()
    assert revision.id is not None and species.id is not None
    return blanks.open_blanks(session, owner, flute_id, revision.id, species.id, lot.id, count)


def _known(session: Session, name: str) -> int | str:
    found = customers.named(session, name)
    return found[0].id if found and found[0].id is not None else "new"


def _due(today: datetime, days: int) -> date:
    return (today + timedelta(days=days)).date()


def _vouch(session: Session, owner: Who, patterns: dict[str, PatternRevision]) -> None:
    """The owner vouches for the patterns from which at least three flutes came out well."""
    for revision in patterns.values():
        good = session.exec(
            select(Blank).where(
                Blank.revision_id == revision.id,
                col(Blank.status).in_([BlankStatus.FINISHED, BlankStatus.HANDED_OVER]),
            )
        ).all()
        if len(good) >= 3:
            revision.proven_at, revision.proven_by = now(), owner.id
            session.add(revision)
    session.commit()
