"""What people type, as text of any kind: a value or a plain refusal, at once, and what is shown reads back the same.

"At once" also for what makes a careless regular expression try for ever (OWASP, Regular expression Denial of Service).
"""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from acoustics.errors import InvalidInput
from acoustics.notes.music import parse_note
from tests.fuzz.patience import within
from webapp.models import Units
from webapp.models.search.searching import words
from webapp.pages.people.devices import device
from webapp.security.hosts import host_name
from webapp.shop.base.errors import Invalid
from webapp.shop.exchange.csv_nouns import NOUNS
from webapp.shop.exchange.csv_reading import table
from webapp.shop.units.durations import parse_duration, show_duration
from webapp.shop.units.keys import parse_key, show_note
from webapp.shop.units.lengths import parse_length, show_length
from webapp.shop.units.numbers import plain_number
from webapp.shop.units.pitches import parse_pitch
from webapp.shop.units.temperatures import parse_temperature

LONG = 200_000
ALPHABET = "0123456789 .,/-+'\"mcinhdayCb#♯♭\N{FRACTION SLASH}\N{MINUS SIGN}\N{DOUBLE PRIME}\t\n\x00eE_٣²xo~"
TYPED = st.one_of(st.text(ALPHABET, max_size=24), st.text(max_size=24))


def _length(text: str) -> float:
    return parse_length(text, Units.INCH)


def _table(text: str) -> Any:
    return table(text, NOUNS["customers"].columns, NOUNS["customers"].needed)


def _pitch(text: str) -> float:
    return parse_pitch(text, 440.0)


READERS: dict[str, Callable[[str], Any]] = {
    "length": _length,
    "duration": parse_duration,
    "temperature": parse_temperature,
    "pitch": _pitch,
    "key": parse_key,
    "note": parse_note,
    "words to search for": words,
    "browser": device,
    "text with notes": show_note,
    "number": plain_number,
    "table": _table,
    "host": host_name,
}


def read(reader: Callable[[str], Any], text: str) -> Any:
    """The value, or None where the text was refused; whatever else is raised is a fault."""
    with within(2.0):
        try:
            return reader(text)
        except (Invalid, InvalidInput) as refused:
            assert str(refused)
        except ValueError as refused:
            # Such a sentence stands at the field: it is ours, not one of Python's.
            assert str(refused)[0].isupper() and str(refused).endswith("."), refused
    return None


@pytest.mark.parametrize("name", READERS)
@given(text=TYPED)
@settings(max_examples=150, derandomize=True, deadline=None, database=None)
def test_any_text_is_read_or_refused(name: str, text: str) -> None:
    read(READERS[name], text)


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize(
    "piece", ["1", " ", "1 ", "1/", "1-", ".", ",", "-", "a", '"', "1 1/", "\t1", "a.", "\N{DOUBLE PRIME}"]
)
def test_a_long_text_takes_no_time(name: str, piece: str) -> None:
    for text in (piece * (LONG // len(piece)), piece * 20_000 + "!", "1" + piece * 20_000 + "mm x"):
        read(READERS[name], text)


@given(mm=st.floats(1e-6, 1e5) | st.floats(-1e5, -1e-6) | st.just(0.0), units=st.sampled_from(Units))
@settings(max_examples=200, derandomize=True, deadline=None, database=None)
def test_a_length_shown_exactly_reads_back_the_same(mm: float, units: Units) -> None:
    assert parse_length(show_length(mm, units, exact=True), units) == mm
    assert show_length(mm, units)


@given(minutes=st.integers(1, 60 * 1440))
@settings(max_examples=100, derandomize=True, deadline=None, database=None)
def test_a_waiting_time_shown_reads_back_the_same(minutes: int) -> None:
    assert parse_duration(show_duration(minutes)) == minutes
