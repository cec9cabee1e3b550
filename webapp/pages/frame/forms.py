"""What a person typed, kept beside what is wrong with it, so that nothing has to be typed twice."""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from starlette.datastructures import FormData

from webapp.models import Degrees, Units
from webapp.shop.base.errors import Doubtful, Invalid, Stale
from webapp.shop.base.messages import messages
from webapp.shop.units.numbers import read_numbers

Model = TypeVar("Model", bound=BaseModel)


# The fields that are notes of several lines; any other is one line, whatever is sent, and so breaks no line of a
# calendar, a table or a head that it comes to stand in.
MANY_LINES = frozenset(
    {
        "address",
        "asked",
        "body",
        "caution",
        "document",
        "extras",
        "finish_care",
        "found",
        "gift_words",
        "instruction",
        "letterhead",
        "note",
        "terms",
        "warranty",
        "what",
        "what_to_check",
    }
)
_BREAKS = dict.fromkeys(map(ord, "\n\t\x0b\x0c\x1c\x1d\x1e\x1f\x85\u2028\u2029"), " ")


class Form:
    """`values` maps each field's name to what was typed, `errors` to what is wrong with it.

    `id` tells several forms of one page apart: it goes before the ids of their fields.
    """

    id: str = ""
    # Where someone else changed it meanwhile: for each field that differs, what it says now and what was typed.
    theirs: Mapping[str, tuple[str, str]] = {}
    # What is asked before what was typed is kept; empty: nothing.
    question: str = ""
    # In which temperatures without a letter are typed.
    degrees: Degrees = Degrees.C

    def __init__(self, values: Mapping[str, Any] | None = None, errors: dict[str, str] | None = None) -> None:
        self.values: dict[str, Any] = dict(values or {})
        self.errors: dict[str, str] = dict(errors or {})

    @classmethod
    def typed(cls, data: FormData, lists: tuple[str, ...] = ()) -> "Form":
        """The text fields of a sent form; a name in `lists` may come several times."""
        values: dict[str, Any] = {}
        for name in data:
            texts = [_clean(value) for value in data.getlist(name) if isinstance(value, str)]
            if name not in MANY_LINES:
                texts = [text.translate(_BREAKS) for text in texts]
            values[name] = texts if name in lists else (texts[-1] if texts else "")
        for name in lists:
            values.setdefault(name, [])
        return cls(values)

    def read(self, model: type[Model], units: Units = Units.MM, emptied: Sequence[str] = ()) -> Model:
        """The typed values as a checked model; an empty field counts as not filled in. Raises Invalid.

        A field that `emptied` names and that was sent empty is given with its default: it is emptied, not left alone.
        """
        filled = {name: value for name, value in self.values.items() if value not in ("", [])}
        for name in emptied:
            if self.values.get(name) == "":
                filled[name] = model.model_fields[name].get_default()
        known = {name: value for name, value in filled.items() if name in model.model_fields}
        known, unread = read_numbers(model, known)
        if unread:
            raise Invalid(unread)
        try:
            return model.model_validate(known, context={"units": units, "degrees": self.degrees})
        except ValidationError as error:
            raise Invalid(messages(error)) from error

    @classmethod
    def of(cls, present: Mapping[str, Any]) -> "Form":
        """A form filled with what is known now, with a mark by which a stale one is told later."""
        return cls({**present, "seen": _mark(present)})

    def must_be_fresh(self, present: Mapping[str, Any]) -> None:
        """Raises Stale where what this form was filled with has changed since; `theirs` then holds both versions."""
        if self.values.get("seen", "") in ("", _mark(present)):
            return
        pairs = {name: (_said(value), _said(self.values.get(name))) for name, value in present.items()}
        self.theirs = {
            name: (_ticked(says), _ticked(typed)) if isinstance(present[name], bool) else (says, typed)
            for name, (says, typed) in pairs.items()
            if says != typed
        }
        self.values["seen"] = _mark(present)
        raise Stale({})

    def overtaken(self, error: Stale) -> "Form":
        """The same form with both versions of what someone else changed, ready to be sent again on top of theirs."""
        theirs = dict(error.theirs)
        if version := theirs.pop("version", ""):
            self.values["version"] = version
        pairs = {name: (says, _said(self.values.get(name))) for name, says in theirs.items()}
        self.theirs = dict(self.theirs) | {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}
        if not self.theirs:
            self.errors = {"": f"{error} Nothing of yours is saved yet: sending it again puts yours on top."}
        return self

    def asked(self, error: Doubtful) -> "Form":
        """The same form with the question, which one tap answers with yes."""
        again = Form({**self.values, "sure": error.sure}, {"": error.question})
        again.id, again.degrees, again.question = self.id, self.degrees, error.question
        return again

    def failed(self, error: Invalid) -> "Form":
        """The same form with these messages at its fields."""
        again = Form(self.values, error.errors)
        again.id, again.degrees = self.id, self.degrees
        return again


def _said(value: Any) -> str:
    """A value as its field would send it; a box that is not ticked sends nothing."""
    if value is None or value is False:
        return ""
    return "on" if value is True else str(value)


def _ticked(said: str) -> str:
    return "yes" if said else "no"


def _mark(present: Mapping[str, Any]) -> str:
    text = "\n".join(f"{name}={_said(value)}" for name, value in sorted(present.items()))
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _clean(text: str) -> str:
    """Trimmed, and without the characters that PostgreSQL can't store or no keyboard sends."""
    return "".join(c for c in text.replace("\r\n", "\n") if c in "\n\t" or (c.isprintable() or c.isspace())).strip()
