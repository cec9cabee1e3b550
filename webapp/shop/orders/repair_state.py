"""How the repairs of an order stand, and what becomes of their flutes; knows nothing of how orders move."""

from sqlmodel import Session, col, select

from webapp.models import Blank, BlankStatus, BlankStep, Order, Repair, StepRecord, StepState, now
from webapp.shop.base.errors import Refused
from webapp.shop.blanks.state import lock, settle
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who


def of_order(session: Session, order: Order) -> list[Repair]:
    """The order's repairs in their order."""
    statement = select(Repair).where(Repair.order_id == order.id)
    return list(session.exec(statement.order_by(col(Repair.position), col(Repair.id))))


def under_way(session: Session, blank_id: int | None) -> Repair | None:
    """The repair that this blank is back on the rack for."""
    statement = select(Repair).where(Repair.blank_id == blank_id, col(Repair.begun_at).is_not(None))
    return session.exec(statement.where(col(Repair.done_at).is_(None)).limit(1)).first()


def any_waiting(session: Session, order_id: int) -> bool:
    """Whether a repair of the order is not done yet."""
    statement = select(Repair.id).where(Repair.order_id == order_id, col(Repair.done_at).is_(None))
    return session.exec(statement.limit(1)).first() is not None


def must_not_be_in_repair(session: Session, blank: Blank) -> None:
    """Raise Refused for a flute that is here to be repaired: it does not belong to the shop."""
    if repair := under_way(session, blank.id):
        order = session.get(Order, repair.order_id)
        number = order.number if order else ""
        raise Refused(f"{blank.serial} is here for a {repair.kind}: take that off order {number} instead.")


def hand_back(session: Session, who: Who, order: Order) -> None:
    """The repaired flutes go back to their players when the order is handed over."""
    for repair in of_order(session, order):
        if repair.blank_id is not None:
            blank = lock(session, repair.blank_id)
            if blank.status is BlankStatus.FINISHED:
                blank.status, blank.due_on = BlankStatus.HANDED_OVER, None
                blank.version += 1
                session.add(blank)
            diary.write(session, who, "blank", blank.id, f"Given back with order {order.number}")


def take_in_again(session: Session, who: Who, order: Order, words: str, why: str) -> None:
    """The repaired flutes have not gone back after all: their order was handed over by mistake."""
    for repair in of_order(session, order):
        if repair.blank_id is not None:
            blank = lock(session, repair.blank_id)
            if blank.status is BlankStatus.HANDED_OVER and repair.done_at is not None:
                blank.status, blank.due_on = BlankStatus.FINISHED, order.due_on
                blank.version += 1
                session.add(blank)
            diary.write(session, who, "blank", blank.id, words, why)


def break_off(session: Session, who: Who, repair: Repair, words: str) -> None:
    """End a repair that was begun: steps that nobody worked at go, what was recorded stays."""
    if repair.blank_id is None or repair.begun_at is None or repair.done_at is not None:
        return
    blank = lock(session, repair.blank_id)
    worked_at = set(session.exec(select(StepRecord.step_id).where(StepRecord.blank_id == blank.id)))
    for step in session.exec(select(BlankStep).where(BlankStep.repair_id == repair.id)):
        if step.id not in worked_at:
            session.delete(step)
        elif step.state is not StepState.PASSED:
            # Nothing is left to be done at it: it stays as a fact of what was tried.
            step.state = StepState.PASSED
            session.add(step)
    session.flush()
    settle(session, blank)
    blank.finished_at = repair.built_at
    blank.status, blank.due_on = repair.came_as or BlankStatus.HANDED_OVER, None
    settle(session, blank)
    repair.done_at = now()
    session.add_all([blank, repair])
    diary.write(session, who, "blank", blank.id, words)
