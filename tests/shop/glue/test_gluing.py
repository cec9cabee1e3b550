"""What room and wood do to a glue-up: the shop's own rule, by hand. Invented figures; no published source."""

from dataclasses import replace
from datetime import date

import pytest

from acoustics.flute.instrument import Body, Chamber, Instrument, Window
from webapp.models import Adhesive, GlueLot
from webapp.shop.glue import gluing
from webapp.shop.glue.gluing import Wood


def adhesive(**more: object) -> Adhesive:
    usual = {"name": "glue", "open_minutes": 10, "clamp_minutes": 60, "cure_minutes": 600, "lowest_temperature": 10.0}
    return Adhesive(**(usual | {"at_temperature": 20.0, "slower_when_cold": 2.0, "slower_when_damp": 1.5} | more))


@pytest.mark.parametrize(
    ("temperature", "moistures", "more", "open_clamp_cure"),
    [
        (20, (8, 8), {}, (10, 60, 600)),
        (10, (8, 8), {}, (10, 120, 1200)),  # ten degrees colder: twice as long, the open time no longer
        (30, (8, 8), {}, (5, 60, 600)),  # ten degrees warmer: half the open time, the clamps no shorter
        (20, (8, 10), {}, (10, 90, 900)),  # the damper half counts
        (10, (10, None), {}, (10, 180, 1800)),
        (20, (6, 8), {}, (10, 60, 600)),  # dry wood is no quicker
        (20, (6, 8), {"slower_when_damp": 0.5}, (10, 120, 1200)),  # glue that needs moisture: the drier half counts
        (20, (None, None), {}, (10, 60, 600)),
        (20, (8, 8), {"cure_minutes": 30}, (10, 60, 60)),  # never cured before it comes out
    ],
)
def test_times_follow_the_shops_own_numbers(
    temperature: float, moistures: tuple[float | None, float | None], more: dict[str, object], open_clamp_cure: object
) -> None:
    found = gluing.times(adhesive(**more), temperature, [Wood("A", *moistures)])
    assert (found.open, found.clamp, found.cure) == open_clamp_cure


def test_each_thing_that_is_wrong_is_one_sentence_and_all_well_is_none() -> None:
    today = date(2030, 5, 1)
    bottle = GlueLot(adhesive_id=1, lot="B", best_before=today, by=1)
    well = [Wood("A", 8.0, 10.0), Wood("B", None, None)]
    assert gluing.wrongs(adhesive(), bottle, today, 10.0, 30.0, well) == []
    assert gluing.wrongs(adhesive(), None, today, 10.0, None, well) == []
    for changed, says in [
        ({"temperature": 9.5}, "9.5 °C is colder"),
        ({"humidity": 29.0}, "29 %, drier"),
        ({"bottle": replace_date(bottle, date(2030, 4, 30))}, "good until 2030-04-30"),
        ({"woods": [Wood("A", 5.9, 7.0)]}, "A is at 5.9 %, too dry"),
        ({"woods": [Wood("A", 12.5, 12.0)]}, "too damp"),
        ({"woods": [Wood("A", 8.0, 10.1)]}, "2.1 % apart"),
    ]:
        asked = {"bottle": bottle, "temperature": 20.0, "humidity": 50.0, "woods": well} | changed
        [said] = gluing.wrongs(adhesive(), today=today, **asked)
        assert says in said


def replace_date(bottle: GlueLot, until: date) -> GlueLot:
    return GlueLot(adhesive_id=bottle.adhesive_id, lot=bottle.lot, best_before=until, by=bottle.by)


def test_the_joint_is_the_outline_less_its_channels_and_glue_goes_by_its_area() -> None:
    flute = Instrument(
        bore=((0.0, 20.0), (300.0, 20.0)),
        body=Body("round", 5.0),
        window=Window(5.0, 10.0, 5.0, 20.0),
        chamber=Chamber(100.0, 20.0),
    )
    outline = gluing.needed(flute)
    assert gluing.joint_area(flute) == pytest.approx(outline.length * outline.width - 300 * 20 - 100 * 20)
    cone = replace(flute, bore=((0.0, 20.0), (300.0, 10.0)))
    assert gluing.joint_area(cone) == pytest.approx(gluing.joint_area(flute) + 300 * 5)
    glue = adhesive(spread_rate=200.0, density=1.25)
    assert gluing.grams(glue, 10_000.0) == pytest.approx(2.0)
    # 1 oz = 28.349523125 g, 1 US fl oz = 29.5735295625 ml (NIST Handbook 44, appendix C).
    assert [gluing.in_unit(100.0, unit, 1.25) for unit in ("g", "ml", "oz", "fl oz", "piece")] == pytest.approx(
        [100.0, 80.0, 3.527, 2.705, None]
    )
