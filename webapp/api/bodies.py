"""The body of a call as the rule's own form: JSON, its lengths in mm, its text without what no database keeps."""

import json
from typing import Any, Final

from pydantic import BaseModel, ValidationError
from starlette.requests import Request

from webapp.api.problems import Problem
from webapp.api.ways import JSON, Way
from webapp.models import Units
from webapp.pages.frame.forms import messages
from webapp.shop.base.errors import Invalid

MOST_FIELDS: Final = 200


def checked(way: Way, request: Request, body: bytes) -> BaseModel | None:
    """The body as the rule's own form. Raises Invalid, Problem."""
    if way.takes and _kind(request) not in way.takes:
        raise Problem("not-json", f"Send the file itself as the body, as {', '.join(way.takes)}.")
    if way.model is None:
        return None
    if body and _kind(request) != JSON:
        raise Problem("not-json", "Send the body as application/json.")
    try:
        sent = json.loads(body, parse_constant=lambda _: None) if body.strip() else {}
    except (ValueError, RecursionError) as error:
        raise Problem("not-json", "The body is not JSON that can be read.") from error
    if not isinstance(sent, dict) or len(sent) > MOST_FIELDS:
        raise Problem("not-json", "The body must be a JSON object.")
    sent = cleaned(sent)
    fields = way.model.model_fields
    if way.versioned and "version" not in sent:
        match = seen(request)
        if match.isascii() and match.isdigit() and len(match) < 10:
            sent["version"] = int(match)
        elif fields["version"].is_required() or match:
            raise Problem("version-needed", "Send If-Match with the ETag you were given, or `version` in the body.")
    if unknown := [name for name in sent if name not in fields]:
        raise Invalid({name[:60]: "There is no such field." for name in unknown[:10]})
    try:
        return way.model.model_validate(sent, context={"units": Units.MM})
    except ValidationError as error:
        raise Invalid(messages(error)) from error


def seen(request: Request) -> str:
    """The version in the ETag of If-Match: what stands before the digest of all that was shown beside it."""
    return request.headers.get("if-match", "").removeprefix("W/").strip().strip('"').partition("-")[0][:64]


def cleaned(value: Any) -> Any:
    """Text without the characters that PostgreSQL can't store."""
    if isinstance(value, str):
        return "".join(c for c in value if c in "\n\t" or c.isprintable() or c.isspace()).strip()
    if isinstance(value, dict):
        return {cleaned(str(name)): cleaned(one) for name, one in value.items()}
    return [cleaned(one) for one in value] if isinstance(value, list) else value


def _kind(request: Request) -> str:
    return request.headers.get("content-type", "").split(";")[0].strip().lower()
