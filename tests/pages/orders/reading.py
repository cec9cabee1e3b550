"""What a person reads on a page, however its lines are broken in the source."""

import re


def flat(page: str) -> str:
    """The page with single spaces in the place of whatever white space it has."""
    return " ".join(page.split())


def version(page: str) -> str:
    """The version that the page's forms were filled from."""
    found = re.search(r'name="version" value="(\d+)"', flat(page))
    assert found is not None
    return found[1]
