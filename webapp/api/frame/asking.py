"""Who is asking: the key, whom it speaks for, and whether both may do this. A dependency of every operation."""

from dataclasses import dataclass

from fastapi import Request
from fastapi.security import HTTPBearer
from fastapi.security.base import SecurityBase

from webapp.api.frame.around import Around
from webapp.api.frame.problems import Problem
from webapp.models import Role
from webapp.shop.people import roles, tokens
from webapp.shop.people.tokens import Bearer, Scope


class Key(SecurityBase):
    """The API key in the Authorization header, as the description names it."""

    def __init__(self) -> None:
        self.model = HTTPBearer(description="An API key.").model
        self.scheme_name = "key"

    def __call__(self, request: Request) -> str:
        kind, _, text = request.headers.get("authorization", "").partition(" ")
        if kind.lower() != "bearer" or not text.strip():
            raise Problem("no-key", "Send an API key: Authorization: Bearer fb_…")
        return text.strip()[:200]


key = Key()


@dataclass(frozen=True, slots=True)
class Needs:
    """What an operation needs: a scope of the key, and a role that the table of roles allows.

    `pages` are the addresses of the pages that do the same: by the first of them the table decides who may.
    """

    scope: Scope
    pages: tuple[str, ...]

    def __call__(self, request: Request) -> Bearer:
        """Whom the key speaks for. Raises Problem, NotAllowed."""
        around = Around.of(request.app.state)
        with around.database.read() as session:
            found = tokens.bearer(session, key(request))
        if found is None:
            raise Problem("no-key", "This key is not known, or it was revoked or is over.")
        if self.scope not in found.scopes and not (self.scope is Scope.READ and found.scopes):
            raise Problem("not-allowed", f"This key may not do that: it needs the scope '{self.scope}'.")
        if request.method != "GET" and found.who.role is Role.VIEWER:
            raise Problem("not-allowed", "This key's person may only look.")
        for page in self.pages[:1]:
            roles.check(found.who.role, "GET" if request.method == "GET" else "POST", page)
        request.state.bearer = found
        return found
