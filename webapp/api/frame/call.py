"""One call of the API at work, as its handlers get it: `Look` reads the shop, `Change` changes it.

Both are dependencies. A change that comes with an Idempotency-Key is carried out once: the key is kept in the same
transaction as what the rule does, and the answer beside it.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Annotated, Any, Final

from fastapi import Depends, Header, Request
from sqlmodel import Session, col, delete
from starlette.responses import Response, StreamingResponse

from webapp.api.frame.around import Around
from webapp.api.frame.bodies import refuse_unreadable, version_seen
from webapp.api.frame.problems import Problem, Replay
from webapp.api.frame.rows import seen_by
from webapp.models import Answered, now
from webapp.shop.base.errors import Stale
from webapp.shop.base.marks import marked
from webapp.shop.exchange.exporting import plain
from webapp.shop.people import tokens
from webapp.shop.people.accounts import Who
from webapp.shop.people.tokens import Bearer

JSON: Final = "application/json"
PDF: Final = "application/pdf"
KEPT: Final = timedelta(days=2)
LONGEST_KEY: Final = 120
NOT_KEPT: Final = {"cache-control": "no-store"}


class Call:
    """One request at work: who asks, the session, and what is around."""

    def __init__(self, request: Request, session: Session) -> None:
        self.request, self._session = request, session
        self.bearer: Bearer = request.state.bearer
        self.around = Around.of(request.app.state)

    @property
    def session(self) -> Session:
        """Where the shop is asked and changed."""
        return self._session

    @property
    def who(self) -> Who:
        return self.bearer.who

    def address(self, path: str = "") -> str:
        """The whole address of a page of the shop, as it is printed or sent."""
        base = f"{self.request.url.scheme}://{self.request.url.netloc}"
        return (self.around.public_url or base) + path

    def answer(
        self, data: Any, version: int | str | None = None, location: str | None = None, secret: bool = False
    ) -> Response:
        """The answer as JSON; 304 where If-None-Match names it already.

        The ETag of something with a version is that version and a digest of all that is shown, so that it changes when
        a payment or a blank is added and yet tells which version was seen. `location` says where the new thing is.
        `secret`: it holds something that is shown this once, so it is never kept for a repeated request.
        """
        text = json.dumps(seen_by(self.who.role, data), ensure_ascii=False, allow_nan=False)
        headers = dict(NOT_KEPT) if secret else {}
        if version is not None:
            headers["etag"] = f'"{version}-{_digest(text.encode())}"'
            if self._knows(headers["etag"]):
                return Response(status_code=304, headers=headers)
        if location:
            headers["location"] = location
        return Response(text, 201 if location else 200, headers, media_type=JSON)

    def file(self, content: bytes | Iterator[bytes], kind: str, name: str) -> Response:
        """A file as the answer, whole or in pieces as they are made."""
        name = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in name)
        headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "private, no-cache"}
        if isinstance(content, Iterator):
            return StreamingResponse(content, media_type=kind, headers=headers)
        headers["etag"] = f'"{_digest(content)}"'
        if self._knows(headers["etag"]):
            return Response(status_code=304, headers=headers)
        return Response(content, media_type=kind, headers=headers)

    def pdf(self, content: bytes, name: str) -> Response:
        """A paper as the answer."""
        return self.file(content, PDF, f"{name}.pdf")

    def page(self, items: list[Any], page: int, more: bool) -> Response:
        """One page of a list."""
        return self.answer({"items": items, "page": page, "more": more})

    def _knows(self, etag: str) -> bool:
        if self.request.method != "GET" or (known := self.request.headers.get("if-none-match")) is None:
            return False
        return etag in [one.strip().removeprefix("W/") for one in known.split(",")]


class Changing(Call):
    """A call that changes the shop: at most once for the same Idempotency-Key.

    The database is asked for the key with the first question of the handler, so that no lock is held before that.
    """

    def __init__(self, request: Request, session: Session, key: str) -> None:
        super().__init__(request, session)
        self._key = key
        self._kept: Answered | None = None
        self._begun = False

    @property
    def session(self) -> Session:
        if not self._begun:
            self._begun = True
            self._begin()
        return self._session

    def answer(
        self, data: Any, version: int | str | None = None, location: str | None = None, secret: bool = False
    ) -> Response:
        made = super().answer(data, version, location, secret)
        if self._kept is not None and not secret:
            kept = self._kept
            kept.status, kept.location = made.status_code, location or ""
            kept.etag, kept.body = made.headers.get("etag", ""), bytes(made.body).decode()
            self._session.add(kept)
        self.commit()
        return made

    def commit(self) -> None:
        """Keep what was done, all of it at once; called by the answer, and before a job is handed over."""
        self._session.commit()

    def must_be_as_seen(self, present: Mapping[str, Any]) -> None:
        """Of something without a number of its own for each version: that it still says what the key's ETag was of.

        Raises Problem; Stale, with what it says now.
        """
        if not (seen := version_seen(self.request)):
            raise Problem("version-needed", "Send If-Match with the ETag you were given.")
        if seen != marked(present):
            raise Stale({name: "" if value is None else str(plain(value)) for name, value in present.items()})

    def _begin(self) -> None:
        token_id = self.bearer.token.id
        assert token_id is not None
        if not self._key:
            return
        if before := self._session.get(Answered, (token_id, self._key)):
            raise Replay(self._again(before))
        self._session.exec(delete(Answered).where(col(Answered.at) < now() - KEPT))
        self._kept = Answered(token_id=token_id, key=self._key, asked=self._asked(), status=0)
        self._session.add(self._kept)
        self._session.flush()

    def _asked(self) -> str:
        """A digest of method, address and body."""
        url = self.request.url
        return hashlib.sha256(f"{self.request.method} {url.path}?{url.query}\n".encode() + self._body()).hexdigest()

    def _body(self) -> bytes:
        # Read by now, whether as JSON or as a file; a request without a body has none.
        return bytes(getattr(self.request.state, "body", b""))

    def _again(self, before: Answered) -> Response:
        if before.asked != self._asked():
            raise Problem("key-used-before", "Use a fresh Idempotency-Key for every request that is another one.")
        if not before.status:
            words = "That request was carried out, but its answer was kept nowhere: look before you go on."
            raise Problem("refused", words)
        headers = {"idempotency-replayed": "true"}
        headers |= {name: value for name, value in (("location", before.location), ("etag", before.etag)) if value}
        return Response(before.body, before.status, headers, media_type=JSON)


def _look(request: Request) -> Iterator[Call]:
    call = None
    try:
        with Around.of(request.app.state).database.read() as session:
            call = Call(request, session)
            yield call
    finally:
        _note_use(call)


def _change(
    request: Request,
    idempotency_key: Annotated[
        str, Header(alias="Idempotency-Key", description="A key of your own for this request.")
    ] = "",
) -> Iterator[Changing]:
    refuse_unreadable(request)
    given = idempotency_key.strip()
    if len(given) > LONGEST_KEY or not given.isprintable():
        raise Problem("invalid", f"Idempotency-Key: at most {LONGEST_KEY} plain characters.")
    call = None
    try:
        with Around.of(request.app.state).database.write() as session:
            call = Changing(request, session, given)
            yield call
    finally:
        _note_use(call)


def _note_use(call: Call | None) -> None:
    """Write down now and then that the key is used, once the session of the call is closed."""
    if call is None or not tokens.is_due(call.bearer.token) or call.bearer.token.id is None:
        return
    with call.around.database.write() as session:
        tokens.note_use(session, call.bearer.token.id)


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:16]


# The session is closed before the answer goes out, so that nobody waits for a slow reader.
Look = Annotated[Call, Depends(_look, scope="function")]
Change = Annotated[Changing, Depends(_change, scope="function")]
