"""The blanks on the rack: to one scale, and as far along as they are."""

import pytest

from acoustics.flute.instrument import Instrument
from tests.drawings.flutes import FLUTES, flute
from tests.drawings.reading import SVG, Drawing, numbers
from webapp.drawings.blank.miniature import drawn_length, miniature, rack_class
from webapp.drawings.blank.progress import Progress

CEDAR, WALNUT = "#a4623c", "#4e3424"
OPEN = Progress(bored=True)
CLAMPED = Progress(bored=True, in_clamps=True)
GLUED = Progress(bored=True, glued=True)
FLUED = Progress(bored=True, glued=True, flue_cut=True)
VOICED = Progress(bored=True, glued=True, flue_cut=True, window_open=True, block_on=True)
TURNED = Progress(bored=True, glued=True, flue_cut=True, window_open=True, turned=True)
DONE = Progress(True, True, False, True, True, True, True, True, True)
ALL = (Progress(), OPEN, CLAMPED, GLUED, FLUED, VOICED, TURNED, DONE)


def draw(progress: Progress, instrument: Instrument | None = None, colour: str = CEDAR, label: str = "A4") -> Drawing:
    return Drawing(miniature(instrument or flute(), colour, progress, seed=7, label=label, name="2026-007"))


@pytest.mark.parametrize("instrument", FLUTES.values(), ids=FLUTES.keys())
@pytest.mark.parametrize("progress", ALL)
def test_every_flute_can_be_drawn_at_every_stage(instrument: Instrument, progress: Progress) -> None:
    drawing = draw(progress, instrument)
    assert drawing.outside() == []
    assert drawing.collisions() == []
    assert len(miniature(instrument, CEDAR, progress, label="A4")) < 9000  # a rack of many stays light


@pytest.mark.parametrize("instrument", FLUTES.values(), ids=FLUTES.keys())
def test_one_em_is_ten_millimetres_so_that_all_share_a_scale(instrument: Instrument) -> None:
    drawing = draw(DONE, instrument)
    left, _, width, height = drawing.box
    assert drawing.root.attrib["width"].endswith("em")
    assert float(drawing.root.attrib["width"][:-2]) * 10 == pytest.approx(width, abs=0.01)
    assert float(drawing.root.attrib["height"][:-2]) * 10 == pytest.approx(height, abs=0.01)
    assert width == pytest.approx(drawn_length(instrument))
    assert left + width == pytest.approx(instrument.foot_x, abs=3)


@pytest.mark.parametrize("drilled", [False, True])
def test_holes_are_true_to_place_and_size(drilled: bool) -> None:
    instrument = flute()
    drawing = draw(Progress(bored=True, glued=True, holes_drilled=drilled), instrument)
    part = drawing.part("holes drilled" if drilled else "holes marked")
    circles = {numbers(node, "cx", "r") for node in part.iter(f"{SVG}circle")}
    for hole in (*instrument.holes, *instrument.foot_holes):
        assert (hole.x, hole.diameter / 2) in circles


def test_the_channels_are_as_wide_as_bore_and_chamber() -> None:
    part = draw(OPEN).part("channel")
    rect = part.find(f"{SVG}rect")
    assert rect is not None
    assert numbers(rect, "x", "width", "height") == pytest.approx((-177.5, 150.0, 15.9), abs=0.05)


@pytest.mark.parametrize(
    ("progress", "seen", "not_seen"),
    [
        (Progress(), {"marked out", "tape"}, {"channel", "clamps", "side"}),
        (OPEN, {"channel"}, {"marked out", "side"}),
        (CLAMPED, {"clamps", "side"}, {"channel", "holes marked"}),
        (GLUED, {"side", "holes marked", "window marked"}, {"clamps", "flue", "window"}),
        (FLUED, {"flue", "window marked"}, {"window", "block"}),
        (VOICED, {"flue", "window", "block", "cord", "side"}, {"turned body", "holes drilled"}),
        (TURNED, {"turned body", "pencil", "holes marked"}, {"side", "block"}),
        (DONE, {"turned body", "holes drilled", "block", "cord"}, {"pencil", "tape", "side"}),
    ],
)
def test_it_shows_what_is_done_and_nothing_else(progress: Progress, seen: set[str], not_seen: set[str]) -> None:
    drawing = draw(progress)
    parts = {node.get("data-part") for node in drawing.root.iter(f"{SVG}g")}
    assert seen <= parts
    assert not not_seen & parts


def test_no_two_stages_look_the_same() -> None:
    assert len({miniature(flute(), CEDAR, progress) for progress in ALL}) == len(ALL)


def test_grain_grows_from_the_seed_alone() -> None:
    assert miniature(flute(), CEDAR, GLUED, seed=3) == miniature.__wrapped__(flute(), CEDAR, GLUED, seed=3)
    assert miniature(flute(), CEDAR, GLUED, seed=3) != miniature(flute(), CEDAR, GLUED, seed=4)


def test_ids_of_two_blanks_on_one_page_differ() -> None:
    ids = [
        node.attrib["id"]
        for seed in (1, 2)
        for node in Drawing(miniature(flute(), CEDAR, DONE, seed=seed)).root.iter()
        if "id" in node.attrib
    ]
    assert len(ids) == len(set(ids)) == 2


def test_pencil_shows_on_dark_wood_too() -> None:
    def pencil(colour: str) -> str | None:
        line = draw(GLUED, colour=colour).part("pencil").find(f"{SVG}line")
        assert line is not None
        return line.get("stroke")

    assert pencil(CEDAR) != pencil(WALNUT)


def test_a_screen_reader_hears_the_serial_and_how_far_it_is() -> None:
    title = draw(CLAMPED).root.find(f"{SVG}title")
    assert title is not None and title.text == "2026-007: in clamps"
    title = draw(VOICED).root.find(f"{SVG}title")
    assert title is not None and title.text == "2026-007: glued, still square, flue cut, window open, block tied on"


def test_what_a_person_typed_is_escaped() -> None:
    svg = miniature(flute(), CEDAR, GLUED, label="<A&4>", name='"><script>')
    assert "<script" not in svg
    assert "<A&4>" in Drawing(svg).words


@pytest.mark.parametrize("colour", ["cedar", "#12345", "#1234567", "red;}", ""])
def test_a_colour_that_is_none_is_refused_by_name(colour: str) -> None:
    with pytest.raises(ValueError, match="wood_colour"):
        miniature(flute(), colour, GLUED)


@pytest.mark.parametrize(
    ("lengths", "name"),
    [([], "rack--400"), ([400.0], "rack--400"), ([300, 400.1], "rack--500"), ([2000], "rack--1000")],
)
def test_the_longest_blank_sets_the_racks_scale(lengths: list[float], name: str) -> None:
    assert rack_class(lengths) == name
