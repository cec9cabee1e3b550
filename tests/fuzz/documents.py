"""Documents that are nearly right: one that the engine takes, with a few of its parts put wrong."""

import copy
from collections.abc import Iterator
from typing import Any, Final

from hypothesis import strategies as st

ODD: Final = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-3, 12),
    st.integers(-(10**400), 10**400),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from([0.0, -0.0, 1e-9, 1e-3, 0.5, 20.0, 440.0, 1e4, 5e-324, 1.7e308]),
    st.text(max_size=8),
    st.sampled_from(["", "xxxxxx", "oooooo", "A4", "Cb-1", "x" * 9, "\ud83e", "minor pentatonic", "9" * 400]),
    st.lists(st.one_of(st.none(), st.floats(), st.text(max_size=2)), max_size=4),
    st.dictionaries(st.text(max_size=4), st.floats(), max_size=3),
    st.just([[[[[[]]]]]]),
)
# Mostly near what it was, so that the engine gets to calculate with it.
SCALES: Final = [0.25, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.01, 1.05, 1.1, 1.25, 1.5, 2.0, 4.0, -1.0, 0.0, 1e-6, 1e6]
Place = tuple[Any, ...]


def places(document: Any, at: Place = ()) -> Iterator[Place]:
    """The path of each part of a document."""
    if at:
        yield at
    if isinstance(document, dict):
        for name, value in document.items():
            yield from places(value, (*at, name))
    if isinstance(document, list):
        for number, value in enumerate(document):
            yield from places(value, (*at, number))


@st.composite
def nearly(draw: st.DrawFn, document: Any) -> Any:
    """The document with one to three of its parts scaled, odd, missing, doubled or of another name."""
    made = copy.deepcopy(document)
    for _ in range(draw(st.integers(1, 3))):
        how = draw(st.sampled_from(["scaled"] * 6 + ["odd", "gone", "doubled", "unknown"]))
        every = [place for place in places(made) if how != "scaled" or isinstance(_at(made, place), float)]
        if not every:
            break
        *to, last = draw(st.sampled_from(every))
        around = _at(made, tuple(to))
        value = around[last]
        if how == "scaled":
            around[last] = value * draw(st.sampled_from(SCALES))
        elif how == "gone":
            del around[last]
        elif how == "doubled" and isinstance(value, list):
            around[last] = value * draw(st.sampled_from([2, 3, 40]))
        elif how == "unknown" and isinstance(around, dict):
            around[draw(st.text(max_size=5))] = value
        else:
            around[last] = copy.deepcopy(draw(ODD))
    return made


def _at(document: Any, place: Place) -> Any:
    for step in place:
        document = document[step]
    return document
