"""The layout read back from its files: DXF with ezdxf, SVG with the standard library's XML parser, to 0.1 mm."""

import math
import re
from io import StringIO
from xml.etree import ElementTree

import ezdxf
import pytest

from acoustics.flute.instrument import Body, Hole, Instrument, Window
from tests.blanks import FLUTE
from webapp.drawings.flute.layout import Layer
from webapp.drawings.flute.layout_dxf import layout_dxf
from webapp.drawings.flute.layout_svg import layout_svg

TO = 0.1  # mm
TAPERED = Instrument(
    bore=((-8.0, 22.0), (100.0, 20.0), (310.0, 16.0)),
    body=Body("flat", 5.0),
    window=Window(5.0, 10.0),
    holes=(Hole(150.0, 7.0), Hole(175.0, 7.5), Hole(200.0, 8.0), Hole(230.0, 8.0), Hole(255.0, 6.5)),
    foot_holes=(Hole(290.0, 5.0),),
)


@pytest.fixture(params=[FLUTE, TAPERED], ids=["round", "flat and tapered"])
def flute(request: pytest.FixtureRequest) -> Instrument:
    found: Instrument = request.param
    return found


def test_every_dimension_is_read_back_from_the_dxf(flute: Instrument) -> None:
    drawing = ezdxf.read(StringIO(layout_dxf(flute, "A4 to test with, revision 1")))
    assert drawing.units == 4, "4 is millimetres in the DXF reference, header variable $INSUNITS"
    assert not drawing.audit().errors
    space = drawing.modelspace()
    discs = {
        layer: sorted(
            (c.dxf.center.x, c.dxf.center.y, 2 * c.dxf.radius) for c in space.query(f'CIRCLE[layer=="{layer}"]')
        )
        for layer in ("finger holes", "foot holes")
    }
    assert discs["finger holes"] == [pytest.approx((h.x, 0.0, h.diameter), abs=TO) for h in flute.holes]
    assert discs["foot holes"] == [pytest.approx((h.x, 0.0, h.diameter), abs=TO) for h in flute.foot_holes]

    def box(layer: str) -> tuple[float, float, float, float]:
        (run,) = space.query(f'LWPOLYLINE[layer=="{layer}"]')
        points = list(run.get_points("xy"))  # type: ignore[attr-defined]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return min(xs), max(xs), min(ys), max(ys)

    window, wide = flute.window, flute.window.width / 2
    assert box("window") == pytest.approx((-window.length, 0.0, -wide, wide), abs=TO)
    assert box("bore")[:2] == pytest.approx((flute.plug_x, flute.foot_x), abs=TO)
    assert box("bore")[3] == pytest.approx(max(d for _, d in flute.bore) / 2, abs=TO)
    if flute.window_wall < flute.body.wall or flute.body.outside == "flat":
        half = flute.bore_diameter(0.0) / 2
        r, flat = half + flute.body.wall, half + flute.window_wall
        wide = r if flute.body.outside == "flat" else math.sqrt(r * r - flat * flat)
        seat = box("seat")
        assert seat[2:] == pytest.approx((-wide, wide), abs=TO)
        assert seat[0] < -window.length - (flute.flue.length if flute.flue else 0.0) and seat[1] > 0.0
    assert box("plug")[1] == pytest.approx(flute.plug_x, abs=TO)
    outside = max(d for _, d in flute.bore) / 2 + flute.body.wall
    assert box("outline")[1:] == pytest.approx((flute.foot_x, -outside, outside), abs=TO)
    assert box("foot")[:2] == pytest.approx((flute.foot_x, flute.foot_x), abs=TO)
    low, high, *across = box("centre line")
    assert across == [0.0, 0.0]
    assert low < box("outline")[0] < box("outline")[1] < high
    if flute.flue and flute.chamber:
        deep = flute.flue.width / 2
        start = -window.length - flute.flue.length
        assert box("flue") == pytest.approx((start, -window.length, -deep, deep), abs=TO)
        assert box("exit hole") == pytest.approx((start - 8.0, start, -deep, deep), abs=TO)
        chamber = box("slow air chamber")
        assert chamber[1] - chamber[0] == pytest.approx(flute.chamber.length, abs=TO)
        assert chamber[3] - chamber[2] == pytest.approx(flute.chamber.diameter, abs=TO)


def test_the_layers_carry_the_words_of_the_trade() -> None:
    drawing = ezdxf.read(StringIO(layout_dxf(FLUTE, "x")))
    names = {layer.dxf.name for layer in drawing.layers}
    assert {"outline", "centre line", "finger holes", "window", "plug", "flue", "foot"} <= names
    assert {layer.value for layer in Layer} <= names


@pytest.mark.parametrize("title", ["two\nlines  0\nEOF", "%%u 100 %%c", "F♯4 „low“ \x00", ""])
def test_no_title_breaks_the_dxf(title: str) -> None:
    drawing = ezdxf.read(StringIO(layout_dxf(FLUTE, title)))
    assert not drawing.audit().errors
    assert len(drawing.modelspace().query("CIRCLE")) == 6
    assert len(drawing.modelspace().query("TEXT")) == 1


def test_the_svg_is_one_to_one_in_millimetres(flute: Instrument) -> None:
    root = ElementTree.fromstring(layout_svg(flute, 'A4 <"&'))
    space = "{http://www.w3.org/2000/svg}"
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    # SVG 1.1, 7.8: a viewBox of the same size as width and height in mm makes one user unit one millimetre.
    assert root.attrib["width"] == f"{width:g}mm" and root.attrib["height"] == f"{height:g}mm"
    groups = {group.attrib["data-part"]: group for group in root.iter(f"{space}g")}
    circles = [
        (float(c.attrib["cx"]), float(c.attrib["cy"]), 2 * float(c.attrib["r"]))
        for c in groups["finger holes"].iter(f"{space}circle")
    ]
    assert circles == [pytest.approx((h.x, 0.0, h.diameter), abs=TO) for h in flute.holes]
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", groups["window"][0].attrib["d"])]
    assert (min(numbers[::2]), max(numbers[::2])) == pytest.approx((-flute.window.length, 0.0), abs=TO)
    assert max(numbers[1::2]) == pytest.approx(flute.window.width / 2, abs=TO)
    for number in (flute.foot_x, -flute.window.length):
        assert left < number < left + width
    assert top < 0 < top + height
