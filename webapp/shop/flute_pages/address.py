"""The unguessable address of a flute's own page.

A page says nothing of a person, and its code is printed for life: so its address is not drawn and kept as a digest,
as a customer's is, but calculated from one secret of the shop (HMAC-SHA-256, RFC 2104, cut to 192 bits).
"""

import hmac
from base64 import urlsafe_b64encode
from hashlib import sha256

from sqlmodel import Session

from webapp.models import Blank, BlankStatus, FlutePages
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import as_id
from webapp.shop.flute_pages.rules import settings
from webapp.shop.orders import repair_state

LONGEST = 60
NO_SUCH = "This address does not work, or no longer does. Ask the shop."


def path_of(session: Session, blank: Blank) -> str | None:
    """The path of the flute's page, or None where it has none: the pages are closed, or it is no flute yet."""
    said = settings(session)
    if not said.is_open or blank.id is None or not _has_left_the_bench(session, blank):
        return None
    return f"/flute/{blank.id}-{_mark(said, blank.id)}"


def blank_at(session: Session, secret: str) -> Blank:
    """The flute of this address. Raises NotFound, in the same words for every address that does not work."""
    said = settings(session)
    number, _, mark = secret[:LONGEST].partition("-")
    blank_id = as_id(number)
    if said.is_open and blank_id and secret.isascii() and hmac.compare_digest(mark, _mark(said, blank_id)):
        blank = session.get(Blank, blank_id)
        if blank is not None and str(blank_id) == number and _has_left_the_bench(session, blank):
            return blank
    raise NotFound(NO_SUCH)


def _mark(said: FlutePages, blank_id: int) -> str:
    whole = hmac.digest(said.secret.encode(), f"flute {blank_id}".encode(), sha256)
    return urlsafe_b64encode(whole[:24]).decode()


def _has_left_the_bench(session: Session, blank: Blank) -> bool:
    """Whether it is finished, or was, and is here for a repair."""
    if blank.status in (BlankStatus.FINISHED, BlankStatus.HANDED_OVER):
        return True
    return blank.status is BlankStatus.IN_WORK and repair_state.under_way(session, blank.id) is not None
