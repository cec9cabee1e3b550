"""What lies in the shop, as numbers for a program that watches: no names, no serials."""

from prometheus_client import CollectorRegistry, Gauge, generate_latest
from sqlmodel import Session, func, select

from webapp.jobs import schedule
from webapp.models import Blank, BlankStatus, Order, OrderStatus, Stage

BACKUP = "backup"


def in_words_of_prometheus(session: Session) -> bytes:
    """Open blanks by stage, open orders by state, and how the backups are, in Prometheus' text format."""
    registry = CollectorRegistry()
    blanks = Gauge("flutebench_blanks_in_work", "Blanks in work.", ["stage"], registry=registry)
    counted = dict(
        session.exec(
            select(Blank.stage, func.count()).where(Blank.status == BlankStatus.IN_WORK).group_by(Blank.stage)
        ).all()
    )
    for stage in Stage:
        blanks.labels(stage.value).set(counted.get(stage, 0))
    orders = Gauge("flutebench_orders_open", "Orders not handed over or withdrawn.", ["state"], registry=registry)
    over = (OrderStatus.HANDED_OVER, OrderStatus.WITHDRAWN)
    by_state = dict(
        session.exec(select(Order.status, func.count()).where(Order.status.not_in(over)).group_by(Order.status)).all()  # type: ignore[attr-defined]
    )
    for state in OrderStatus:
        if state not in over:
            orders.labels(state.value).set(by_state.get(state, 0))
    done_at, fault = schedule.state(session, BACKUP)
    backup = Gauge(
        "flutebench_backup_timestamp_seconds", "When a backup was last found whole; 0: never.", registry=registry
    )
    backup.set(done_at.timestamp() if done_at else 0)
    failing = Gauge("flutebench_backup_failing", "1 where the last try to back up went wrong.", registry=registry)
    failing.set(bool(fault))
    return generate_latest(registry)
