"""The layout strip: pieces that fit, marks that stand clear, every length measured back from the PDF at 1:1."""

import copy
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given, strategies as st
from sqlmodel import select

from acoustics.designing.starting import StartHole, StartSizes
from acoustics.flute.instrument import Instrument
from tests.paper.blanks import SIX_HOLES, put_on_the_bench
from tests.paper.reading import Drawn, drawn, sizes, text, words
from tests.shops import OpenShop
from webapp.models import Paper, Pattern, Units
from webapp.paper.press.sheets import SHEETS
from webapp.paper.press.workers import Press
from webapp.paper.strip.drawing import BOTTOM, LOWER, UPPER
from webapp.paper.strip.pieces import END, OVERLAP, Piece, marks, pieces
from webapp.paper.strip.sheet import SIDE, Strip, strip_job, strip_of
from webapp.shop.base.errors import NotFound

pytest_plugins = ["tests.shops"]

# What the strip is held to: every length within 0.1 mm over 600 mm.
TOLERANCE = 0.1


def long_flute() -> dict[str, Any]:
    """A low flute, 605 mm from splitting edge to foot."""
    flute = copy.deepcopy(SIX_HOLES)
    flute["bore"] = [[-9.0, 25.4], [605.0, 25.4]]
    for hole, x in zip(flute["holes"], (260.0, 293.4, 327.1, 388.8, 422.25, 455.9), strict=True):
        hole["x"] = x
    flute["foot_holes"] = [{"x": 540.0, "diameter": 7.0}, {"x": 577.7, "diameter": 7.0}]
    flute["chamber"] = {"length": 210.0, "diameter": 25.4}
    return flute


FLUTES = {"ordinary": SIX_HOLES, "long": long_flute()}
each = pytest.mark.parametrize("paper", list(Paper))
both = pytest.mark.parametrize("name", list(FLUTES))


def printed(press: Press, name: str, paper: Paper, units: Units = Units.MM) -> tuple[Strip, bytes]:
    flute = Instrument.from_json(FLUTES[name])
    found = tuple(pieces(flute, SHEETS[paper][1] - 2 * SIDE))
    strip = Strip("Alder Lane Flutes", "A pattern", "A4", 2, paper, units, flute, found)
    return strip, press.print(strip_job(strip))


@dataclass(frozen=True)
class Found:
    """What was found of one piece on paper: its own left edge, and what is drawn between its rulers [mm]."""

    left: float
    width: float
    shapes: list[Drawn]

    def uprights(self, height: float) -> list[float]:
        """Where lines of this height stand, from the left."""
        return sorted({round(s.centre[0], 4) for s in self.shapes if s.width < 1e-3 and abs(s.height - height) < 0.01})


def found_pieces(pdf: bytes) -> Iterator[Found]:
    """The pieces in the order of the sheets, each known by its two rulers."""
    for page in range(len(sizes(pdf))):
        shapes = drawn(pdf, page)
        rulers = sorted(
            (s for s in shapes if s.height < 1e-3 and s.width > 30), key=lambda s: (-round(s.centre[1], 2), s.box[0])
        )
        levels = [r for r in rulers if any(abs(r.centre[1] - (LOWER - UPPER) - o.centre[1]) < 0.01 for o in rulers)]
        for upper in levels:
            top, bottom = upper.centre[1] + UPPER, upper.centre[1] + UPPER - BOTTOM
            own = [s for s in shapes if bottom - 0.1 <= s.box[1] and s.box[3] <= top + 0.1]
            yield Found(upper.box[0], upper.width, own)


@each
@both
def test_every_mark_is_within_a_tenth_of_a_millimetre(press: Press, name: str, paper: Paper) -> None:
    strip, pdf = printed(press, name, paper)
    found = list(found_pieces(pdf))
    assert len(found) == len(strip.pieces)
    measured: list[float] = []
    begins = 0.0  # where the piece's left edge lies along the whole strip once it is taped to the one before
    joint = 0.0
    for piece, seen in zip(strip.pieces, found, strict=True):
        registers = [x - seen.left for x in seen.uprights(BOTTOM - 1)]
        assert len(registers) == (piece.left is not None) + (piece.right is not None)
        if piece.left:
            begins = joint - registers[0]
        holes = {round(s.centre[0], 4) for s in seen.shapes if len(s.points) > 8 and s.width > 4.9}
        for x in sorted([*seen.uprights(LOWER - UPPER), *holes]):
            where = begins + x - seen.left
            low = begins + (registers[0] if piece.left else 0.0)
            high = begins + (registers[-1] if piece.right else seen.width)
            if low - 1e-6 <= where <= high + 1e-6:
                measured.append(where)
        joint = begins + registers[-1] if piece.right else joint
    wanted = sorted({round(mark.x, 6) for mark in marks(strip.instrument)})
    assert len(measured) == len(wanted)
    for there, here in zip(wanted, measured, strict=True):
        assert here - measured[0] == pytest.approx(there - wanted[0], abs=TOLERANCE / 5)


@each
@both
def test_holes_are_drawn_in_their_true_size(press: Press, name: str, paper: Paper) -> None:
    strip, pdf = printed(press, name, paper)
    circles = [s for seen in found_pieces(pdf) for s in seen.shapes if len(s.points) > 8 and s.width > 4.9]
    wanted = sorted(hole.diameter for hole in (*strip.instrument.holes, *strip.instrument.foot_holes))
    assert sorted(circle.width for circle in circles) == pytest.approx(wanted, abs=0.01)


@each
def test_both_rulers_are_true_from_end_to_end(press: Press, paper: Paper) -> None:
    strip, pdf = printed(press, "long", paper)
    for piece, seen in zip(strip.pieces, found_pieces(pdf), strict=True):
        zero = seen.left - piece.paper[0]
        tens = [x - zero for x in seen.uprights(4.0)]
        assert len(tens) > 8
        for x in tens:
            off_mm, off_inch = abs(x / 10 - round(x / 10)) * 10, abs(x / 25.4 - round(x / 25.4)) * 25.4
            assert min(off_mm, off_inch) < 0.01, x
        ones = [x - zero for x in seen.uprights(1.8)]
        assert all(abs(x - round(x)) < 0.01 for x in ones)


@each
def test_the_check_bar_is_6_inches(press: Press, paper: Paper) -> None:
    _, pdf = printed(press, "ordinary", paper)
    # One inch is 25.4 mm by definition (international yard and pound agreement, 1959).
    own = [s for s in drawn(pdf, 0) if abs(s.height - 2.6) < 0.01 and abs(s.width - 25.4) < 0.01]
    assert len({round(s.box[0], 2) for s in own}) == 6
    assert max(s.box[2] for s in own) - min(s.box[0] for s in own) == pytest.approx(152.4, abs=0.01)


@pytest.mark.parametrize("units", list(Units))
def test_it_says_what_is_drilled_now_and_what_is_finished(press: Press, units: Units) -> None:
    flute = Instrument.from_json(SIX_HOLES)
    start = StartSizes(331.0, 318.4, 322.0, 0.01, tuple(StartHole(h.x, 5.5, h.diameter, 7.0) for h in flute.holes), ())
    found = tuple(pieces(flute, SHEETS[Paper.LETTER][1] - 2 * SIDE, start))
    assert found[-1].end == 331.0
    pdf = press.print(strip_job(Strip("S", "P", "A4", 2, Paper.LETTER, units, flute, found, start)))
    said = " ".join(text(pdf).split())
    now, last = ('0.217"', '0.280"') if units is Units.INCH else ("5.5", "7.1")
    for label in (f"1 drill Ø {now}", f"end Ø {last}", "saw foot here now", "foot, finished", "Drill now", "ramp to"):
        assert label in said
    circles = [s for seen in found_pieces(pdf) for s in seen.shapes if len(s.points) > 8 and s.width > 4.9]
    widths = sorted(round(c.width, 2) for c in circles)
    assert widths == pytest.approx(sorted([*[5.5] * 6, *(h.diameter for h in flute.holes), 6.4]), abs=0.01)


def test_without_start_sizes_it_says_that_holes_and_foot_are_finished(press: Press) -> None:
    _, pdf = printed(press, "ordinary", Paper.LETTER)
    said = " ".join(text(pdf).split())
    assert "Holes and foot are drawn finished." in said
    assert "foot, finished" in said and "drill" not in said


def test_the_window_is_marked_apart_from_its_ramp() -> None:
    flute = Instrument.from_json({**SIX_HOLES, "window": {**SIX_HOLES["window"], "edge_height": 2.3}})
    named = {mark.name: mark.x for mark in marks(flute)}
    assert (named["window from"], named["edge: window to"]) == (-5.5, 0.0)
    # From the tip at 2.3 to the flat at 3.6 a ramp of 30 degrees runs 1.3 / tan 30 = 2.252 mm.
    assert named["ramp to"] == pytest.approx(2.252, abs=0.001)
    assert (named["exit hole from"], named["flue from"]) == (-37.5, -29.5)


@each
@both
@pytest.mark.parametrize("units", list(Units))
def test_it_fits_the_sheet_and_no_label_lies_on_another(press: Press, name: str, paper: Paper, units: Units) -> None:
    strip, pdf = printed(press, name, paper, units)
    high, wide = SHEETS[paper]
    assert all(size == pytest.approx((wide, high), abs=0.01) for size in sizes(pdf))
    for page in range(len(sizes(pdf))):
        assert all(s.box[0] >= SIDE - 0.5 and s.box[2] <= wide - SIDE + 0.5 for s in drawn(pdf, page))
        found = [word for word in words(pdf, page) if word.text.strip()]
        for index, one in enumerate(found):
            assert 5 <= one.bottom <= one.top <= high - SIDE + 0.5
            for other in found[index + 1 :]:
                across = min(one.right, other.right) - max(one.left, other.left)
                along = min(one.top, other.top) - max(one.bottom, other.bottom)
                assert across < 0.3 or along < 0.4, (one, other)
    said = text(pdf)
    assert "exactly 6 in = 152.4 mm" in said
    assert "Print at 100 %" in said
    for joint in (piece.left[0] for piece in strip.pieces if piece.left):
        assert f"Cut this piece off at line {joint}" in said


@given(room=st.floats(60, 420), foot=st.floats(310, 900))
def test_pieces_cover_the_flute_fit_the_room_and_join(room: float, foot: float) -> None:
    flute = Instrument.from_json({**SIX_HOLES, "bore": [[-8.5, 19.05], [foot, 19.05]]})
    found = pieces(flute, room)
    assert found[0].start == marks(flute)[0].x
    assert found[-1].end == foot
    for before, after in itertools.pairwise(found):
        assert before.right == after.left
        assert before.end == after.start
        assert before.paper[1] - after.paper[0] == 2 * OVERLAP
    for piece in found:
        low, high = piece.paper
        assert high - low <= room + 1e-9
        assert piece.start < piece.end


def test_register_marks_keep_clear_of_holes() -> None:
    flute = Instrument.from_json(long_flute())
    for piece in pieces(flute, SHEETS[Paper.LETTER][1] - 2 * SIDE):
        if piece.right:
            at = piece.right[1]
            assert at == round(at)
            assert all(abs(at - hole.x) > hole.diameter / 2 + 4 for hole in (*flute.holes, *flute.foot_holes))


def test_a_short_flute_is_one_piece_without_registers() -> None:
    flute = Instrument.from_json({**SIX_HOLES, "chamber": {"length": 20.0, "diameter": 19.05}})
    found = pieces(flute, 420)
    assert len(found) == 1
    assert found[0] == Piece(marks(flute)[0].x, flute.foot_x, None, None)
    assert found[0].paper == (marks(flute)[0].x - END, flute.foot_x + END)


def test_a_sheet_that_is_no_sheet_is_refused() -> None:
    with pytest.raises(ValueError, match="room"):
        pieces(Instrument.from_json(SIX_HOLES), 40)


def test_a_revision_is_found_or_said_to_be_missing(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        put_on_the_bench(session)
    with open_shop.database.read() as session:
        pattern = session.exec(select(Pattern.id)).one() or 0
        strip = strip_of(session, pattern, 3, Units.MM)
        assert (strip.pattern, strip.revision, strip.key) == ("A4 minor pentatonic, 3/4 in bore", 3, "A4")
        for wrong in ((pattern, 4), (pattern, 0), (pattern, 10**20), (pattern + 1, 3), (10**20, 3)):
            with pytest.raises(NotFound):
                strip_of(session, *wrong, Units.MM)
