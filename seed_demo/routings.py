"""The demo's second routing, for flutes bored from the solid, and whose hands some blanks are in."""

from sqlmodel import Session, col, select

from webapp.models import Blank, BlankStatus, Pattern, PatternRevision, Species, Stage, StepKind
from webapp.shop.blanks import hands
from webapp.shop.blanks.state import steps_of
from webapp.shop.people.accounts import Who
from webapp.shop.production import opening as blanks, stages
from webapp.shop.routings import cautions, rules as routings, steps as routing_steps
from webapp.shop.routings.forms import NewRouting, StepAsked

SOLID = "Bored from the solid"
GONE = ("bore", "flaws", "halves-meet", "dry-fit", "scraped", "glue-up", "swab", "cure")
ADDED = [
    StepAsked(
        stage=Stage.BORING,
        after="halves",
        name="Bored through from both ends",
        instruction="Square the ends, mark both centres, and bore from each end to the plug with a long auger, the "
        "blank turning slowly and the drill standing still. Clear the chips every hand's width.",
        caution="Eye protection, hair and sleeves tied back, no gloves near what turns. The drill's manual, local "
        "codes and qualified advice come first.",
        shows="bore",
    ),
    StepAsked(
        stage=Stage.BORING,
        after="bore",
        name="Bores looked through",
        instruction="Hold it against a lamp: the bore is round to the plug, without a step where the drill was taken "
        "out. Take a picture into the foot end.",
        photo=True,
    ),
    StepAsked(
        stage=Stage.BORING,
        after="bore-gauge",
        name="Wall gauged at the foot",
        instruction="Measure the wall at four places around the foot; write down the thinnest.",
        kind=StepKind.GAUGE,
        gauge="Wall thickness: calipers",
        of="wall",
        offset=1.2,
        under=0.4,
    ),
]

CHANGED = {
    "halves": StepAsked(
        stage=Stage.BORING,
        name="Piece chosen and cut",
        instruction="Straight grain, no knot at the plug, the window or a finger hole. Cut it a finger's width long "
        "and let it lie in the shop until its moisture is the room's.",
        caution=cautions.SAWING,
    ),
    "bore-sanded": StepAsked(
        stage=Stage.BORING,
        name="Bore sanded",
        instruction="Wrap 80 grit around a slotted dowel and turn it through from both ends until the drill's rings "
        "are gone.",
        caution=cautions.DUST,
    ),
    "bore-gauge": StepAsked(
        stage=Stage.BORING,
        name="Bore gauged",
        instruction="Push a full-size dowel in from each end: it goes to the plug without play. Then measure across at "
        "the foot.",
        kind=StepKind.GAUGE,
        gauge="Bore diameter: calipers and a full-size dowel",
        of="bore-foot",
        under=0.2,
        over=0.3,
    ),
}


def a_second_routing(session: Session, owner: Who, pattern_name: str) -> None:
    """A routing of its own for one family of patterns; it holds for what is opened from then on."""
    usual = routings.ensure(session)
    note = "One piece of wood, for the high flutes: nothing is glued but the block is tied on as always."
    made = routings.add(session, owner, NewRouting(name=SOLID, note=note, copy_of=usual.id or 0))
    assert made.id is not None
    for code in reversed(GONE):
        routing_steps.remove_step(session, owner, made.id, code)
    for asked in ADDED:
        routing_steps.add_step(session, owner, made.id, asked)
    for code, changed in CHANGED.items():
        routing_steps.change_step(session, owner, made.id, code, changed)
    pattern = session.exec(select(Pattern).where(Pattern.name == pattern_name)).one()
    assert pattern.id is not None
    routings.choose(session, owner, pattern.id, made.id)
    revision = session.exec(select(PatternRevision.id).where(PatternRevision.pattern_id == pattern.id)).first()
    wood = session.exec(select(Species.id).where(Species.name == "black cherry")).one()
    assert revision is not None and wood is not None
    first, _ = blanks.open_blanks(session, owner, None, revision, wood, None, 2)
    for step in steps_of(session, first.id or 0)[:2]:
        stages.record(session, owner, step.id or 0, stages.RecordStep())


def hand_out(session: Session, owner: Who, makers: list[Who]) -> None:
    """Two of three blanks in work are in somebody's hands."""
    rows = session.exec(select(Blank.id).where(Blank.status == BlankStatus.IN_WORK).order_by(col(Blank.id)))
    for number, blank_id in enumerate(rows.all()):
        if number % 3 and blank_id is not None:
            hands.give_to(session, owner, blank_id, hands.GiveTo(hands_id=makers[number % len(makers)].id))
