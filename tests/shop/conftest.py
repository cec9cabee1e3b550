"""What tests of the shop's rules share beside the open shop itself."""

import pytest
from sqlmodel import Session

from tests.shops import OpenShop
from webapp.models import Blank, Pattern, PatternRevision


def pattern(session: Session, shop: OpenShop) -> PatternRevision:
    """A pattern as rows alone, for rules that do not look at its dimensions."""
    made = Pattern(name="A4, test", key="A4", scale="minor pentatonic")
    session.add(made)
    session.flush()
    assert made.id is not None
    revision = PatternRevision(
        pattern_id=made.id, instrument={}, request={}, notes=[], warnings=[], made_by=shop.owner.id
    )
    session.add(revision)
    session.flush()
    return revision


@pytest.fixture
def two_blanks(open_shop: OpenShop) -> list[int]:
    """The ids of two blanks of no order."""
    with open_shop.database.write() as session:
        revision = pattern(session, open_shop)
        assert revision.id is not None
        made = [
            Blank(
                serial=f"T-{n}",
                revision_id=revision.id,
                species_id=open_shop.species(),
                key="A4",
                opened_by=open_shop.maker.id,
            )
            for n in (1, 2)
        ]
        session.add_all(made)
        session.commit()
        return [blank.id for blank in made if blank.id is not None]
