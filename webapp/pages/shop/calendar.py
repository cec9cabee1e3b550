"""One's own calendar feed: opened, renewed and closed by its person, read by a calendar at a secret address."""

import hashlib

from fastapi import APIRouter
from fastapi.responses import PlainTextResponse, Response

from webapp.models import now
from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import Act, Desk, PublicView, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, NotFound
from webapp.shop.scheduling import calendar_entries, calendar_feed
from webapp.shop.scheduling.calendar_feed import SEEN_EVERY, FeedAsked

router = APIRouter()

# Nothing of the address goes anywhere; a calendar asks again each time, and hears "not changed" where that is so.
QUIET = {
    "referrer-policy": "no-referrer",
    "x-robots-tag": "noindex, nofollow, noarchive",
    "cache-control": "private, no-cache",
}
ALARMS = [
    ("", "No alarm"),
    ("0", "When it is time"),
    ("10", "10 min before"),
    ("30", "30 min before"),
    ("60", "1 h before"),
]


@router.get("/calendar/{secret}.ics")
@router.head("/calendar/{secret}.ics", include_in_schema=False)
def read(desk: PublicView, secret: str) -> Response:
    """The feed itself, open to whoever has its address."""
    try:
        feed = calendar_feed.by_secret(desk.session, secret)
    except NotFound as error:
        return PlainTextResponse(str(error), 404, headers=QUIET)
    content = calendar_entries.calendar(desk.session, feed, public_address(desk))
    etag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    if feed.read_at is None or now() - feed.read_at > SEEN_EVERY:
        with desk.request.app.state.database.write() as session:
            calendar_feed.is_read(session, feed.id or 0)
    if etag in desk.request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=QUIET | {"etag": etag})
    headers = QUIET | {"etag": etag, "content-disposition": 'inline; filename="workshop.ics"'}
    return Response(content, media_type="text/calendar; charset=utf-8", headers=headers)


@router.get("/me/calendar")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/me/calendar")
def open_feed(desk: Act) -> Response:
    """Open the feed or renew its address. The answer is not sent on: it alone ever shows the address."""
    form = desk.form()
    try:
        secret = calendar_feed.open_feed(desk.session, desk.who, form.read(FeedAsked))
    except Invalid as error:
        return _page(desk, form.failed(error), 422)
    return _page(desk, address=public_address(desk, f"/calendar/{secret}.ics"))


@router.post("/me/calendar/close")
def close(desk: Act) -> Response:
    calendar_feed.revoke(desk.session, desk.who)
    return desk.go("/me/calendar?said=Closed.+The+address+leads+nowhere+now.")


def _page(desk: Desk, form: Form | None = None, status: int = 200, address: str = "") -> Response:
    feed = calendar_feed.feed_of(desk.session, desk.who)
    usual = {
        "with_customers": bool(feed and feed.with_customers),
        "alarm_minutes": "" if feed is None or feed.alarm_minutes is None else str(feed.alarm_minutes),
    }
    return desk.render(
        "shop/calendar_feed.html",
        status=status,
        form=form or Form(usual),
        feed=feed,
        address=address,
        webcal=address.replace("https://", "webcal://").replace("http://", "webcal://"),
        alarms=ALARMS,
        coming=sorted(
            calendar_entries.everything(desk.session, bool(feed and feed.with_customers)),
            key=lambda due: due.at.isoformat(),
        )[:12],
        is_moment=lambda at: hasattr(at, "hour"),
    )
