"""The two cookies: the one that a sign-in lives in, and the one by which a browser is known again.

Over https their names begin with `__Host-`, so that no neighbouring site can set them (RFC 6265bis, 4.1.3.2).
"""

from starlette.requests import HTTPConnection
from starlette.responses import Response

SIGN_IN = "flutebench"
KNOWN = "flutebench-known"
_YEAR = 366 * 86400


def token(connection: HTTPConnection) -> str:
    """The token of this browser's sign-in, or nothing."""
    return connection.cookies.get(_name(SIGN_IN, connection), "")


def known_token(connection: HTTPConnection) -> str:
    """The token by which this browser is known, or nothing."""
    return connection.cookies.get(_name(KNOWN, connection), "")


def keep_token(answer: Response, connection: HTTPConnection, value: str, days: int) -> None:
    _set(answer, connection, SIGN_IN, value, days * 86400)


def keep_known(answer: Response, connection: HTTPConnection, value: str) -> None:
    _set(answer, connection, KNOWN, value, _YEAR)


def drop_token(answer: Response, connection: HTTPConnection) -> None:
    answer.delete_cookie(
        _name(SIGN_IN, connection), secure=_is_secure(connection), httponly=True, samesite="lax", path="/"
    )


def _set(answer: Response, connection: HTTPConnection, name: str, value: str, seconds: int) -> None:
    answer.set_cookie(
        _name(name, connection),
        value,
        max_age=seconds,
        httponly=True,
        samesite="lax",
        secure=_is_secure(connection),
        path="/",
    )


def _name(name: str, connection: HTTPConnection) -> str:
    return f"__Host-{name}" if _is_secure(connection) else name


def _is_secure(connection: HTTPConnection) -> bool:
    return connection.url.scheme in ("https", "wss")
