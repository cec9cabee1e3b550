"""The tuning bench: what awaits voicing or tuning, and what is recorded there, readings and cuts."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank, Cut, Reading
from webapp.pages.bench import heard as bench_heard
from webapp.pages.bench.page import address, carried, page
from webapp.pages.frame import drawn
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import today_of, when
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.bench import cuts, hearing, readings
from webapp.shop.bench.cuts import RecordCut, TakeBackCut
from webapp.shop.bench.hearing import RoomAir
from webapp.shop.bench.readings import RecordReading, TakeBackReading
from webapp.shop.blanks import lists as blank_list, state as blank_state
from webapp.shop.blanks.lists import Waiting, Wanted
from webapp.shop.units.keys import show_note

router = APIRouter()

MOST = 40
TAKEN_BACK = f"?said={quote('Taken back. Both rows stay in the history.')}"


@router.get("/bench")
def awaiting(desk: View) -> Response:
    today = today_of(desk.shop)
    groups = []
    for waiting, words, more in (
        (Waiting.VOICING, "Awaiting voicing", "Read the lowest note."),
        (Waiting.TUNING, "Awaiting tuning", "Read every note, open the holes."),
    ):
        where = blank_list.conditions(Wanted(waiting=waiting), today)
        groups.append((words, more, blank_list.due_first(desk.session, where, MOST)))
    shown = [one for _, _, rows in groups for one in rows]
    drawings, scale = drawn.all_small(desk.session, shown)
    return desk.render(
        "bench/awaiting.html",
        groups=groups,
        drawings=drawings,
        scale=scale,
        when=lambda one: when(one, desk.shop, one.is_late(today), said_whose=True),
        late=lambda one: one.is_late(today),
    )


@router.get("/bench/{serial}")
def one(desk: View, serial: str) -> Response:
    query = desk.request.query_params
    room = Form({name: query[name][:20] for name in bench_heard.ROOM if name in query})
    heard = hearing.read(query.get("heard", ""))
    return page(desk, blank_state.by_serial(desk.session, serial), heard=heard, room=room)


@router.post("/bench/{serial}/readings")
def record(desk: Act, serial: str) -> Response:
    """`which` of the notes that were heard it is: the others are carried on to the next page."""
    blank = blank_state.by_serial(desk.session, serial)
    sent = desk.form().values
    heard, which = hearing.read(str(sent.get("heard", ""))), str(sent.get("which", ""))

    def rule(form: Form) -> tuple[RecordReading, Reading]:
        asked = form.read(RecordReading)
        return asked, readings.record(desk.session, desk.who, blank.id or 0, asked)

    def to(done: tuple[RecordReading, Reading]) -> str:
        asked, made = done
        rest = [one for place, one in enumerate(heard) if str(place) != which]
        room = RoomAir(temperature=asked.temperature, humidity=asked.humidity, warmed_up=asked.warmed_up)
        there = f"{address(blank)}{carried(rest, room)}"
        if made.fingering != asked.fingering:
            words = quote(f"{asked.pitch} was typed: written down as {show_note(made.note_name)}, {made.fingering}.")
            there += f"{'&' if '?' in there else '?'}said={words}"
        return f"{there}#{'heard' if rest and which else 'last'}"

    return desk.submit(
        rule,
        again=lambda form, status: page(desk, blank, form, status, heard=heard, room=form),
        to=to,
    )


@router.post("/bench/{serial}/heard")
def record_heard(desk: Act, serial: str) -> Response:
    """All notes that were heard in a recording, by one tap."""
    blank = blank_state.by_serial(desk.session, serial)
    heard = hearing.read(str(desk.form().values.get("heard", "")))
    return desk.submit(
        lambda form: hearing.record_all(desk.session, desk.who, blank, heard, form.read(RoomAir)),
        again=lambda form, status: page(desk, blank, form, status, heard=heard, room=form),
        to=lambda made: (
            f"{address(blank)}?said={quote(f'Written down: {len(made)} notes.' if len(made) > 1 else 'Written down.')}"
        ),
    )


@router.get("/bench/{serial}/readings/{reading_id}")
def ask_take_back(desk: View, serial: str, reading_id: int) -> Response:
    return _take_back_page(desk, *_own(desk, serial, reading_id), Form())


@router.post("/bench/{serial}/readings/{reading_id}")
def take_back(desk: Act, serial: str, reading_id: int) -> Response:
    blank, reading = _own(desk, serial, reading_id)
    return desk.submit(
        lambda form: readings.take_back(desk.session, desk.who, reading_id, form.read(TakeBackReading)),
        again=lambda form, status: _take_back_page(desk, blank, reading, form, status),
        to=f"{address(blank)}{TAKEN_BACK}",
    )


@router.post("/bench/{serial}/cuts")
def record_cut(desk: Act, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    return desk.submit(
        lambda form: cuts.record(desk.session, desk.who, blank.id or 0, form.read(RecordCut, desk.who.units)),
        again=lambda form, status: page(desk, blank, cutting=form, status=status),
        to=f"{address(blank)}#next",
    )


@router.post("/bench/{serial}/way")
def choose_way(desk: Act, serial: str) -> Response:
    """With the drills on the rack, or any size by file and reamer: each person's own."""
    blank = blank_state.by_serial(desk.session, serial)
    return desk.submit(
        lambda form: cuts.choose_way(desk.session, desk.who, form.values.get("way") == "drills"),
        again=lambda form, status: page(desk, blank, cutting=form, status=status),
        to=f"{address(blank)}#next",
    )


@router.get("/bench/{serial}/cuts/{cut_id}")
def ask_take_back_cut(desk: View, serial: str, cut_id: int) -> Response:
    return _take_back_cut_page(desk, *_own_cut(desk, serial, cut_id), Form())


@router.post("/bench/{serial}/cuts/{cut_id}")
def take_back_cut(desk: Act, serial: str, cut_id: int) -> Response:
    blank, cut = _own_cut(desk, serial, cut_id)
    return desk.submit(
        lambda form: cuts.take_back(desk.session, desk.who, cut_id, form.read(TakeBackCut)),
        again=lambda form, status: _take_back_cut_page(desk, blank, cut, form, status),
        to=f"{address(blank)}{TAKEN_BACK}",
    )


def _own(desk: Desk, serial: str, reading_id: int) -> tuple[Blank, Reading]:
    blank = blank_state.by_serial(desk.session, serial)
    reading = find(desk.session, Reading, reading_id, "reading")
    if reading.blank_id != blank.id:
        raise NotFound(f"Blank {blank.serial} has no such reading.")
    return blank, reading


def _own_cut(desk: Desk, serial: str, cut_id: int) -> tuple[Blank, Cut]:
    blank = blank_state.by_serial(desk.session, serial)
    cut = find(desk.session, Cut, cut_id, "cut")
    if cut.blank_id != blank.id:
        raise NotFound(f"Blank {blank.serial} has no such cut.")
    return blank, cut


def _take_back_page(desk: Desk, blank: Blank, reading: Reading, form: Form, status: int = 200) -> Response:
    return desk.render("bench/take_back.html", status=status, blank=blank, reading=reading, form=form, note=show_note)


def _take_back_cut_page(desk: Desk, blank: Blank, cut: Cut, form: Form, status: int = 200) -> Response:
    what = cuts.name(cut.control)
    return desk.render("bench/take_back_cut.html", status=status, blank=blank, cut=cut, what=what, form=form)
