"""Numbers as people of any country write them: 12.5, 12,5, 1 234,50, 1,234.50. One reader for forms and tables."""

import re
from decimal import Decimal
from typing import Any, get_args

from pydantic import BaseModel, BeforeValidator

_SPACES = dict.fromkeys(map(ord, " '\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{RIGHT SINGLE QUOTATION MARK}"))
_LONGEST = 40  # characters: more is no number
_TWO_WAYS = re.compile(r"[-+]?[1-9]\d{0,2},\d{3}")


def plain_number(text: str) -> str:
    """The same in plain figures; what is no number stays as it is. Raises ValueError where it may be read two ways."""
    if len(text) > _LONGEST:
        return text
    plain = text.translate(_SPACES).replace("\N{MINUS SIGN}", "-").strip("$€£")
    comma, dot = plain.rfind(","), plain.rfind(".")
    if comma >= 0 and dot >= 0:
        plain = plain.replace(".", "").replace(",", ".") if comma > dot else plain.replace(",", "")
    elif plain.count(",") > 1:
        plain = plain.replace(",", "")
    elif _TWO_WAYS.fullmatch(plain):
        raise ValueError(f"Can be read two ways: write {plain.replace(',', '')} or {plain.replace(',', '.')}0.")
    else:
        plain = plain.replace(",", ".")
    return plain if re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)", plain) else text


def read_numbers(model: type[BaseModel], typed: dict[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """What was typed for a model, its numbers in plain figures, and what is wrong with those that can't be read.

    A field that reads its own text, such as a length, is left to do so.
    """
    found, wrong = dict(typed), {}
    for name, value in typed.items():
        field = model.model_fields[name]
        if not isinstance(value, str) or not _is_number(field.annotation, field.metadata):
            continue
        try:
            found[name] = plain_number(value)
        except ValueError as error:
            wrong[name] = str(error)
    return found, wrong


def _is_number(kind: Any, metadata: Any = ()) -> bool:
    if any(isinstance(one, BeforeValidator) for one in metadata):
        return False
    if kind in (float, Decimal):
        return True
    parts = get_args(kind)
    if hasattr(kind, "__metadata__"):
        return _is_number(parts[0], kind.__metadata__)
    return any(_is_number(part) for part in parts)
