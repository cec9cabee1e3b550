"""What a page gets to work with: who is here, the shop, a session, what was sent; and how it answers."""

import logging
import secrets
from collections.abc import Callable, Iterator, Sequence
from datetime import timedelta
from typing import Annotated, Any, TypeVar
from urllib.parse import quote, urlsplit

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2_fragments import render_block
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session
from starlette.datastructures import FormData

from webapp.changes import has_written
from webapp.db import Database
from webapp.models import Shop, Submission, now
from webapp.pages.frame import cookies
from webapp.pages.frame.forms import Form
from webapp.security.same_origin import SAFE, comes_from_here
from webapp.settings import Settings
from webapp.shop.base.errors import Doubtful, FieldsNotAllowed, Invalid, NotAllowed, Refused, Stale
from webapp.shop.people import accounts, amounts, news as account_news, roles, second_step
from webapp.shop.people.accounts import Found, Who
from webapp.shop.people.diary import Entry

Done = TypeVar("Done")
door_log = logging.getLogger("flutebench.door")

# What asks for the password again is looked at for so long after it was typed, and changed for twice as long, so that
# a form that was opened in time can be filled in at leisure.
LOOKING, CHANGING = timedelta(minutes=30), timedelta(minutes=60)
PASSWORD_AGAIN, SECOND_STEP = "/me/password-again", "/me/second-step"
# What is open to someone who still owes the second step that the shop wants.
_WITHOUT_SECOND_STEP = (SECOND_STEP, PASSWORD_AGAIN, "/me/news-heard", "/me/sign-out-everywhere", "/sign-out")


class GoTo(Exception):
    """Leave what is being done and send the browser to another page."""

    def __init__(self, address: str) -> None:
        super().__init__(address)
        self.address = address


class Desk:
    """One request at work. `who` and `shop` are set except on the pages that are open to all."""

    def __init__(self, request: Request, session: Session, found: Found | None, shop: Shop | None, here: str) -> None:
        self.request = request
        self._session = session
        self.found = found
        self._who = found.who if found else None
        self._shop = shop
        self.here = here
        self.data = FormData()
        self._submission: Submission | None = None
        self._to_remember = False
        self._acting = False

    @property
    def session(self) -> Session:
        """Where the shop is asked and changed. Whoever changes something holds the lock from the first question on, so
        a form's key is looked up then and not before."""
        if self._to_remember:
            self._to_remember = False
            self._remember()
        return self._session

    def begin(self, session: Session, data: FormData, remembered: bool) -> None:
        """From here on something is changed, as this form asks; `remembered`: at most once."""
        self._session, self.data, self._to_remember = session, data, remembered
        self._acting = True

    @property
    def database(self) -> Database:
        """For what is done before anything is locked, such as hashing a password."""
        database: Database = self.request.app.state.database
        return database

    def not_again(self) -> None:
        """Before such work: a form that was carried out already leads to where that led. Raises GoTo."""
        key = self._key()
        if key is None:
            return
        with self.database.read() as session:
            before = session.get(Submission, key)
        if before is not None:
            raise GoTo(before.went_to)

    @property
    def who(self) -> Who:
        assert self._who is not None
        return self._who

    @property
    def shop(self) -> Shop:
        assert self._shop is not None
        return self._shop

    @property
    def is_set_up(self) -> bool:
        return self._shop is not None

    @property
    def settings(self) -> Settings:
        settings: Settings = self.request.app.state.settings
        return settings

    @property
    def wants_fragment(self) -> bool:
        """Whether htmx asks for a part of the page (a boosted link or form wants all of it)."""
        headers = self.request.headers
        return "hx-request" in headers and "hx-boosted" not in headers

    def form(self, *lists: str) -> Form:
        form = Form.typed(self.data, lists)
        if self._who:
            form.degrees = self._who.degrees
        return form

    def submit(
        self,
        rule: Callable[[Form], Done],
        again: Callable[[Form, int], Response],
        to: str | Callable[[Done], str | Response],
        lists: Sequence[str] = (),
    ) -> Response:
        """The one shape of a page that changes something: read the form, run the rule, keep it all, go on.

        `rule` reads what was typed and calls the shop. Where it refuses, nothing of it is kept and `again` shows the
        page once more with what was typed: 422 with messages at the fields, 409 where the shop's state speaks against
        it or someone else was quicker (the form then holds both versions). `to` is where success leads, or the answer
        itself where that shows a secret, this once; `lists` are the fields that may come several times.
        """
        form = self.form(*lists)
        try:
            done = rule(form)
            self.session.flush()
        except Invalid as error:
            form, status = form.failed(error), 422
        except Stale as error:
            form, status = form.overtaken(error), 409
        except Doubtful as error:
            form, status = form.asked(error), 409
        except Refused as error:
            form, status = form.failed(Invalid({"": str(error)})), 409
        except FieldsNotAllowed as error:
            form, status = self.not_theirs(form, error), 403
        else:
            leads = to(done) if callable(to) else to
            return self.go(leads) if isinstance(leads, str) else leads
        self.session.rollback()
        return again(form, status)

    def not_theirs(self, form: Form, error: FieldsNotAllowed) -> Form:
        """The form with what this person may not set said at each field, and without what they typed there."""
        door_log.warning("person %s may not set %s", self.who.id, ", ".join(sorted(error.errors)))
        failed = form.failed(Invalid(error.errors))
        for name in error.errors:
            failed.values.pop(name, None)
        return failed

    def render(self, template: str, block: str | None = None, status: int = 200, **context: Any) -> Response:
        """The page, or only one block of it. A page that tells of something done keeps it first."""
        if self._acting and status < 400 and has_written(self._session):
            self.commit()
        env = self.request.app.state.templates
        context = {
            "person": self._who,
            "shop": self._shop,
            "here": self.here,
            "notice": self._notice(),
            "news": None if block else self._news(),
            "sees": self._sees,
            "units": self._who.units if self._who else "inch",
            "degrees": self._who.degrees if self._who else "F",
            "once": secrets.token_urlsafe(16),
            "form": Form(),
            **context,
        }
        html = render_block(env, template, block, context) if block else env.get_template(template).render(context)
        return HTMLResponse(html, status_code=status, headers={"vary": "HX-Request"})

    def _sees(self, field: str) -> bool:
        """For templates: whether whoever looks sees this field of the table of amounts."""
        return self._who is not None and amounts.sees(self._who.role, field)

    def _notice(self) -> str | None:
        """What was done, as our own page that led here says; a link from elsewhere puts no words into our mouth."""
        headers = self.request.headers
        ours = comes_from_here(headers) and headers.get("sec-fetch-site") != "none"
        return self.request.query_params.get("said", "")[:200] or None if ours else None

    def _news(self) -> list[Entry]:
        """What happened to this person's account that they were not told of yet."""
        return account_news.untold(self.session, self.found) if self.found and self.found.untold_since else []

    def go(self, address: str) -> Response:
        """Done: commit, and send the browser on. A form sent a second time is sent to the same place."""
        self.commit(address)
        return RedirectResponse(address, status_code=303)

    def commit(self, went_to: str | None = None) -> None:
        """Keep what was done, all of it at once; called by the answer, and before a job is handed over."""
        if went_to is not None and self._submission is not None:
            self._submission.went_to = went_to
        self._session.commit()

    def _remember(self) -> None:
        """Take note of the form's own key, in the transaction of what it does. Raises GoTo if it was done before."""
        key = self._key()
        if key is None:
            return
        if before := self._session.get(Submission, key):
            raise GoTo(before.went_to)
        # Until `go` says better, a repeated form leads to where it stood.
        self._submission = Submission(key=key, person_id=self.who.id, went_to=_stood_on(self.request))
        self._session.add(self._submission)
        try:
            self._session.flush()
        except IntegrityError:
            self._session.rollback()
            before = self._session.get(Submission, key)
            raise GoTo(before.went_to if before else "/") from None

    def _key(self) -> str | None:
        key = self.data.get("once")
        return key if isinstance(key, str) and 10 <= len(key) <= 40 else None


def _stood_on(request: Request) -> str:
    """The page that a form was sent from, as far as the browser tells."""
    path = urlsplit(request.headers.get("referer", "")).path
    return path[:1000] if path.startswith("/") and not path.startswith("//") else "/"


def screen(request: Request) -> str:
    """The name of the screen, from the first part of the address."""
    first = request.url.path.strip("/").split("/")[0]
    return first or "rack"


def _database(request: Request) -> Database:
    database: Database = request.app.state.database
    return database


def _found(request: Request, database: Database, session: Session) -> Found | None:
    token = cookies.token(request)
    found = accounts.who_is(session, token) if token else None
    if found is not None and found.is_due and not _asks_by_itself(request):
        with database.write() as writing:
            accounts.keep_alive(writing, token, request.app.state.settings.session_days)
    return found


def _asks_by_itself(request: Request) -> bool:
    """Whether an open screen asks, and nobody touched it: that prolongs no sign-in."""
    return request.url.path == "/glue-up/alarms" or (request.url.path == "/" and "mark" in request.query_params)


def _open_desk(request: Request, database: Database, session: Session) -> Desk:
    shop = session.get(Shop, 1)
    return Desk(request, session, _found(request, database, session) if shop else None, shop, screen(request))


def _signed_in(desk: Desk) -> Desk:
    if desk._shop is None:
        raise GoTo("/first-run")
    if desk._who is None:
        raise GoTo(_door(desk.request))
    path, method = desk.request.scope["route"].path, desk.request.method
    try:
        roles.check(desk._who.role, method, path)
    except NotAllowed:
        door_log.warning("person %s may not %s %s", desk._who.id, method, path)
        raise
    _owes_nothing(desk, path)
    return desk


def _owes_nothing(desk: Desk, path: str) -> None:
    """Raises GoTo where the shop's rules want a second step that is not set up, or the password once more."""
    found = desk.found
    assert found is not None
    owes = not found.has_second_step and second_step.is_wanted_of(desk.shop, found.who.role)
    if owes and not path.startswith(_WITHOUT_SECOND_STEP):
        raise GoTo(SECOND_STEP)
    looks = desk.request.method in SAFE
    if roles.asks_again(path) and now() - found.confirmed > (LOOKING if looks else CHANGING):
        here = _asked_for(desk.request) if looks else _stood_on(desk.request)
        raise GoTo(f"{PASSWORD_AGAIN}?then={quote(here, safe='/')}")


def _door(request: Request) -> str:
    """The sign-in page, which leads back to what was asked for: a traveler's code that was scanned, a filtered list."""
    asked = _asked_for(request)
    return "/sign-in" if asked == "/" or request.method != "GET" else f"/sign-in?then={quote(asked, safe='/')}"


def _asked_for(request: Request) -> str:
    url = request.url
    return f"{url.path}?{url.query}" if url.query else url.path


def public_view(request: Request) -> Iterator[Desk]:
    database = _database(request)
    with database.read() as session:
        yield _open_desk(request, database, session)


def view(request: Request) -> Iterator[Desk]:
    database = _database(request)
    with database.read() as session:
        yield _signed_in(_open_desk(request, database, session))


async def form_data(request: Request) -> FormData:
    return await request.form(max_fields=600, max_files=20)


def _acting(request: Request, data: FormData, public: bool) -> Iterator[Desk]:
    database = _database(request)
    with database.read() as session:
        desk = _open_desk(request, database, session)
        if not public:
            _signed_in(desk)
    with database.begin() as session:
        desk.begin(session, data, remembered=not public)
        yield desk


def public_act(request: Request, data: Annotated[FormData, Depends(form_data)]) -> Iterator[Desk]:
    yield from _acting(request, data, public=True)


def act(request: Request, data: Annotated[FormData, Depends(form_data)]) -> Iterator[Desk]:
    yield from _acting(request, data, public=False)


# A page that only looks; a page that changes something; the same for those open to people not signed in.
View = Annotated[Desk, Depends(view)]
Act = Annotated[Desk, Depends(act)]
PublicView = Annotated[Desk, Depends(public_view)]
PublicAct = Annotated[Desk, Depends(public_act)]
