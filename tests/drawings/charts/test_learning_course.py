"""First readings over the years, as a picture."""

import re
from datetime import date

import pytest

from webapp.drawings.charts.learning_course import Flute, course_plot


def test_flutes_stand_from_left_to_right_and_higher_where_they_stood_farther_off() -> None:
    flutes = [
        Flute("F1", date(2025, 1, 1), 14.0),
        Flute("F2", date(2025, 7, 2), 7.0),
        Flute("F3", date(2026, 1, 1), 3.5),
    ]
    svg = course_plot(flutes, [(flutes[0].on, 14.0), (flutes[2].on, 5.0)])
    at = [(float(x), float(y)) for x, y in re.findall(r'cx="([\d.]+)" cy="([\d.]+)"', svg)]
    assert [x for x, _ in at] == sorted(x for x, _ in at)
    assert [y for _, y in at] == sorted(y for _, y in at)
    # Half as far off stands half as high above the axis, at 68 mm.
    assert (68.0 - at[1][1]) / (68.0 - at[0][1]) == pytest.approx(0.5, abs=0.01)
    assert "usual at first 14 cents, at last 5" in svg
    assert course_plot(flutes[:1], [])
    with pytest.raises(ValueError, match="nothing to show"):
        course_plot([], [])
