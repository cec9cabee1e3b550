"""Cautions of woods: every flag is said once, in the shop's own words where it has some."""

import pytest

from webapp.models import Species
from webapp.shop.wood import species as woods


@pytest.mark.parametrize(
    ("sensitising", "restricted", "own", "said"),
    [
        (False, False, "", []),
        (True, False, "", [woods.SENSITISING]),
        (False, True, "", [woods.RESTRICTED]),
        (True, True, "", [woods.SENSITISING, woods.RESTRICTED]),
        (True, False, "Its dust is a known cause of asthma.", ["Its dust is a known cause of asthma."]),
        (True, True, "See the CITES listing.", [woods.SENSITISING, "See the CITES listing."]),
        (False, False, "Splits easily.", ["Splits easily."]),
    ],
)
def test_every_flag_is_said_once_and_defers_to_local_codes(
    sensitising: bool, restricted: bool, own: str, said: list[str]
) -> None:
    species = Species(name="a wood", sensitising=sensitising, restricted=restricted, what_to_check=own)
    assert woods.cautions(species) == ([*said, woods.DEFERENCE] if said else [])
