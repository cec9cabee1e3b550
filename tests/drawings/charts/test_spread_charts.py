"""The charts of effects, spread and voicing: what they draw stands where the figures say."""

import re
from itertools import pairwise

import pytest

from webapp.drawings.charts.effects import Effect, effects_chart
from webapp.drawings.charts.spreads import NoteRange, spread_chart
from webapp.drawings.charts.voicing import VoicedNote, voicing_chart


def part(svg: str, name: str) -> str:
    return svg.split(f'data-part="{name}">')[1].split("</g>")[0]


def test_dots_lie_in_proportion_to_their_cents() -> None:
    svg = effects_chart([Effect("Bore", "0.1 mm", (-4.0, -2.0, 0.0, 2.0))], ["A4", "C5", "D5", "E5"])
    xs = [float(x) for x in re.findall(r'cx="([\d.]+)"', part(svg, "effect Bore"))]
    steps = [b - a for a, b in pairwise(xs)]
    assert steps == pytest.approx([steps[0]] * 3, abs=0.01)
    assert steps[0] > 0
    assert "\N{MINUS SIGN}4.0" in svg
    with pytest.raises(ValueError, match="nothing to show"):
        effects_chart([], [])


def test_a_range_runs_from_its_low_to_its_high_end() -> None:
    svg = spread_chart([NoteRange("F#5", 0.0, -8.0, 16.0, (-4.0, 4.0), 0.5)], 5.0)
    here = part(svg, "note F#5")
    lines = re.findall(r'x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="([\d.]+)"', here)
    low, high = next((float(a), float(b)) for a, y1, b, y2 in lines if y1 == y2 and a != "0")
    bar = re.search(r'<rect[^>]* x="([\d.]+)"[^>]* width="([\d.]+)"', here)
    assert bar is not None
    # 24 cents from end to end, 8 cents of bar.
    assert (high - low) / float(bar[2]) == pytest.approx(3.0, abs=0.01)
    assert "50 % in tune" in svg
    with pytest.raises(ValueError, match="nothing to show"):
        spread_chart([], 5.0)


@pytest.mark.parametrize("cents", [0.0, 99.0, 1e4])
def test_far_flutes_stay_on_the_sheet(cents: float) -> None:
    svg = spread_chart([NoteRange("A4", cents, -cents, cents, (-cents, cents), None, (cents,), -cents)], 5.0)
    assert all(-1 <= float(x) <= 151 for x in re.findall(r' (?:cx|x|x1|x2)="([-\d.]+)"', svg))


def test_a_note_is_drawn_over_the_pressures_at_which_it_speaks() -> None:
    note = VoicedNote("A4", 100.0, 250.0, (400.0, 600.0))
    svg = voicing_chart([note], (100.0, 400.0), [(0.0, 0.0), (600.0, 30.0)])
    boxes = [
        (float(x), float(w))
        for x, w in re.findall(r'<rect[^>]* x="([\d.]+)"[^>]* width="([\d.]+)"', part(svg, "note A4"))
    ]
    # It speaks over 300 Pa from 100 on, and settles in the middle of them.
    middle = boxes[1][0] + boxes[1][1] / 2
    assert middle == pytest.approx(boxes[0][0] + boxes[0][1] / 2, abs=0.01)
    band = re.search(r'<rect[^>]* x="([\d.]+)"[^>]* width="([\d.]+)"', part(svg, "common"))
    assert band is not None
    assert (float(band[1]), float(band[2])) == pytest.approx(boxes[0], abs=0.01)
    assert "A guide only" in svg
    with pytest.raises(ValueError, match="nothing to show"):
        voicing_chart([], None, [])
