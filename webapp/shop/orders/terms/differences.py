"""How the content of a paper differs from what its order says now, in words that can be read side by side.

What was empty on the paper and is filled in since (a date that was not named) touches nothing that was told.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from webapp.shop.orders import prices


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that was told otherwise; empty where there was, or is, nothing of it."""

    what: str
    before: str
    after: str


def between(told: dict[str, Any], now: dict[str, Any]) -> list[Difference]:
    """What differs between the content of a paper and the present one, from the lines to the total."""
    currency = now["currency"]
    found = list(_lines(told["lines"], now["lines"], currency))
    for what, name in (("Packing and postage", "postage"), ("Deposit", "deposit")):
        found += _differs(what, _money(told[name], currency), _money(now[name], currency))
    found += _differs("Tax", _tax(told), _tax(now))
    found += _differs("Total", _money(told["total"], currency), _money(now["total"], currency))
    if told["due_on"]:
        found += _differs("Date", _day(told["due_on"]), _day(now["due_on"]))
    return found


def _lines(told: list[dict[str, Any]], now: list[dict[str, Any]], currency: str) -> Iterator[Difference]:
    before, after = (_by_line(lines, known=any("of" in line for line in told)) for lines in (told, now))
    for n, (key, line) in enumerate(before.items(), 1):
        name = line.get("name", f"Line {n}")
        if key not in after:
            yield Difference(name, _whole(line, currency), "")
            continue
        yield from _differs(name, line["what"], after[key]["what"])
        yield from _differs(f"{name}, details", "; ".join(line["details"]), "; ".join(after[key]["details"]))
        yield from _differs(f"{name}, price", _money(line["amount"], currency), _money(after[key]["amount"], currency))
        if line.get("pattern") and after[key].get("pattern"):  # one that was dropped is a notice of its own
            yield from _differs(f"{name}, pattern", line["pattern"], after[key]["pattern"])
        yield from _differs(f"{name}, extras", _more(line, currency), _more(after[key], currency))
    for key, line in after.items():
        if key not in before:
            yield Difference(line.get("name", "A line"), "", _whole(line, currency))


def _by_line(lines: list[dict[str, Any]], known: bool) -> dict[Any, dict[str, Any]]:
    """Lines by what they are about; papers of long ago do not say it, and go by their order."""
    return {line["of"] if known and "of" in line else n: line for n, line in enumerate(lines)}


def _differs(what: str, before: str, after: str) -> list[Difference]:
    return [Difference(what, before, after)] if before != after else []


def _whole(line: dict[str, Any], currency: str) -> str:
    return f"{line['what']}, {_money(line['amount'], currency)}"


def _more(line: dict[str, Any], currency: str) -> str:
    return "; ".join(f"{one['what']}, {_money(one['amount'], currency)}" for one in line.get("more", []))


def _money(amount: str, currency: str) -> str:
    return prices.money(Decimal(amount), currency)


def _tax(content: dict[str, Any]) -> str:
    if (status := content.get("tax_status", "taxed")) != "taxed":
        return f"none: {status}"
    percent = Decimal(content["tax_percent"])
    included = ", included" if content["tax_included"] else ""
    return f"{content['tax_name']}, {prices.percentage(percent)}{included}" if percent else ""


def _day(text: str) -> str:
    if not text:
        return ""
    day = date.fromisoformat(text)
    return f"{day:%a} {day.day} {day:%b %Y}"
