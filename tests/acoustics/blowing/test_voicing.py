"""The jet's numbers against worked examples, and the shape of the chart."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, strategies as st

from acoustics.blowing.jet import blowing_pressure, friction, jet_speed, reduced_jet_speed, settled_speed
from acoustics.blowing.voicing import voicing
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Body, Chamber, Flue, Hole, Instrument, Window
from acoustics.model.air import PLAYED_FLUTE, Air

AIR = Air(343.2, 1.2)
FLUTE = Instrument(
    bore=((-9.0, 16.0), (300.0, 16.0)),
    body=Body("round", 5.0),
    window=Window(5.0, 10.0),
    holes=tuple(Hole(130.0 + 25.0 * i, 7.0) for i in range(6)),
    flue=Flue(0.9, 9.0, 20.0),
    chamber=Chamber(150.0, 16.0),
)
CHART = ("xxxxxx", "xxxxxo", "xxxxoo", "xxxooo", "xxoooo", "oooooo")


@pytest.mark.parametrize(("pressure", "speed"), [(50, 9.13), (100, 12.91), (200, 18.26), (400, 25.82), (1000, 40.82)])
def test_jet_speed_is_bernoullis(pressure, speed):
    """Bernoulli: U = sqrt(2 p / rho) at 1.2 kg/m3 (Landau and Lifshitz, Fluid Mechanics, section 5, from memory)."""
    assert jet_speed(pressure, AIR) == pytest.approx(speed, abs=0.01)


def test_a_wave_that_takes_a_quarter_of_a_period_to_the_edge_pulls_neither_way():
    """By hand: at 0.4 of the jet's speed over 4 mm in a quarter of 1 / 440 s it runs 7.04 m/s, and the jet 17.6 m/s."""
    speed = settled_speed(440.0, 4.0)
    assert speed == pytest.approx(17.6)
    assert 0.004 / (0.4 * speed) == pytest.approx(0.25 / 440.0)
    assert reduced_jet_speed(speed, 440.0, 4.0) == pytest.approx(10.0)


def test_friction_is_plane_poiseuille_flow():
    """Poiseuille: mean speed h^2 dp / (12 mu L) (Landau and Lifshitz, Fluid Mechanics, section 17, from memory)."""
    air = Air(343.2, 1.2, viscosity=1.8e-5)
    assert friction(air, 1.0, 20.0) == pytest.approx(12 * 1.8e-5 * 0.020 / 0.001**2)


@given(st.floats(1.0, 2000.0), st.floats(0.4, 2.0), st.floats(1.0, 60.0))
def test_pressure_and_speed_are_inverse(pressure, depth, length):
    speed = jet_speed(pressure, AIR, depth, length)
    assert speed <= jet_speed(pressure, AIR)
    assert blowing_pressure(speed, AIR, depth, length) == pytest.approx(pressure, rel=1e-9)


def test_chart_rises_with_pitch_and_keeps_its_order():
    chart = voicing(FLUTE, PLAYED_FLUTE, CHART)
    starts = [note.starts for note in chart.notes]
    assert starts == sorted(starts)
    for note in chart.notes:
        assert note.starts < note.settles
        assert note.overblows is None or note.settles < note.overblows[0] <= note.overblows[1]
        speed = jet_speed(note.settles, PLAYED_FLUTE, 0.9, 20.0)
        assert reduced_jet_speed(speed, note.frequency, 5.0) == pytest.approx(10.0)
    assert chart.common is not None
    assert chart.cut_up_ratio == pytest.approx(5.0 / 0.9)
    assert "guide" in chart.guide
    assert chart.settling_time is not None
    assert 1e-4 < chart.settling_time < 0.1
    assert [p for p, _ in chart.curve] == sorted(p for p, _ in chart.curve)


def test_chart_is_json():
    document = voicing(FLUTE, PLAYED_FLUTE, CHART).to_json()
    assert document["notes"][0]["fingering"] == "xxxxxx"
    assert all(math.isfinite(speed) for _, speed in document["curve"])


def test_remarks_name_what_is_unusual():
    wide = replace(FLUTE, flue=Flue(0.5, 12.0, 20.0))
    remarks = " ".join(voicing(wide, PLAYED_FLUTE, CHART).remarks)
    assert "10.0 flue depths" in remarks
    assert "wider than the window" in remarks


def test_without_a_flue_there_is_no_voicing():
    with pytest.raises(InvalidInput) as refused:
        voicing(replace(FLUTE, flue=None), PLAYED_FLUTE, CHART)
    assert refused.value.field == "instrument.flue"


@pytest.mark.parametrize("pressure", [-1.0, float("nan"), float("inf")])
def test_bad_pressure_is_refused(pressure):
    with pytest.raises(InvalidInput):
        jet_speed(pressure, AIR)
