"""The arithmetic of prices: from wood, consumables, time and options to a rounded price, tax, and what is left.

Decimal throughout; nothing here reads a database.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Any

from babel.numbers import format_currency, get_currency_precision

from webapp.models import Rounding, TaxStatus

LOCALE = "en_US"
_STEPS = {
    Rounding.NEAREST_1: (Decimal(1), ROUND_HALF_UP),
    Rounding.UP_1: (Decimal(1), ROUND_CEILING),
    Rounding.NEAREST_5: (Decimal(5), ROUND_HALF_UP),
    Rounding.UP_5: (Decimal(5), ROUND_CEILING),
    Rounding.NEAREST_10: (Decimal(10), ROUND_HALF_UP),
    Rounding.UP_10: (Decimal(10), ROUND_CEILING),
}


@dataclass(frozen=True, slots=True)
class Part:
    """One line of a price as it is built up."""

    what: str
    how: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Extra:
    """An option: what it adds to the price, and what it costs the shop."""

    name: str
    price: Decimal
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Tax:
    """A tax on sales: added to the prices, or contained in them."""

    name: str = ""
    percent: Decimal = Decimal(0)
    included: bool = False
    status: TaxStatus = TaxStatus.TAXED

    @property
    def factor(self) -> Decimal:
        return 1 + self.percent / 100


@dataclass(frozen=True, slots=True)
class BuiltUp:
    """A price and how it is made up. `price` is the order's: with the tax where that is included."""

    cost: tuple[Part, ...]
    added: tuple[Part, ...]
    price: Decimal

    def to_json(self) -> dict[str, Any]:
        def rows(parts: Sequence[Part]) -> list[dict[str, str]]:
            return [{"what": p.what, "how": p.how, "amount": str(p.amount)} for p in parts]

        return {"cost": rows(self.cost), "added": rows(self.added), "price": str(self.price)}

    @property
    def cost_total(self) -> Decimal:
        return sum((part.amount for part in self.cost), Decimal(0))


@dataclass(frozen=True, slots=True)
class Margin:
    """What is left of a price once tax and cost are off it."""

    net: Decimal
    cost: Decimal

    @property
    def left(self) -> Decimal:
        return self.net - self.cost

    @property
    def percent(self) -> Decimal | None:
        """Of the net price."""
        return (100 * self.left / self.net).quantize(Decimal("0.1"), ROUND_HALF_UP) if self.net > 0 else None


@dataclass(frozen=True, slots=True)
class Sums:
    """The sums of an order."""

    lines: Decimal
    postage: Decimal
    tax: Decimal
    total: Decimal
    relief: Decimal = Decimal("0.00")  # the tax that the prices contain and that this order does not bear


def unit(currency: str) -> Decimal:
    """The smallest amount of a currency that is paid: 0.01 of a dollar, a whole yen; never finer than a hundredth."""
    return Decimal(1).scaleb(-min(2, get_currency_precision(currency)))


def to_unit(amount: Decimal, currency: str) -> Decimal:
    return amount.quantize(unit(currency), ROUND_HALF_UP).quantize(Decimal("0.01"))


def money(amount: Decimal, currency: str) -> str:
    """An amount as it is read: $1,240.00, with a true minus sign."""
    return format_currency(amount, currency, locale=LOCALE).replace("-", "\N{MINUS SIGN}")


def percentage(value: Decimal) -> str:
    """A percentage without needless zeros: 8.875 %."""
    text = format(value, "f")
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} %"


def rounded(amount: Decimal, rule: Rounding, currency: str = "USD") -> Decimal:
    """A price by the shop's rounding rule; never below zero."""
    if amount <= 0:
        return Decimal("0.00")
    if rule is Rounding.UP_99:
        return (amount + Decimal("0.01")).to_integral_value(ROUND_CEILING) - Decimal("0.01")
    if rule is Rounding.UP_9:
        tens = ((amount + 1) / 10).to_integral_value(ROUND_CEILING)
        return (10 * tens - 1).quantize(Decimal("0.01"))
    if rule in _STEPS:
        step, way = _STEPS[rule]
        return ((amount / step).to_integral_value(way) * step).quantize(Decimal("0.01"))
    return to_unit(amount, currency)


def built_up(
    cost: Sequence[Part],
    overhead_percent: Decimal,
    markup_percent: Decimal,
    extras: Iterable[Extra],
    tax: Tax,
    rule: Rounding,
    currency: str,
) -> BuiltUp:
    """The price of one flute: cost, overhead on it, markup, options, rounding, the tax where it is included.

    The price is rounded with its tax; the tax shown is the one that this price contains, as papers have it.
    """
    all_cost = list(cost)
    if overhead_percent:
        amount = to_unit(_total(all_cost) * overhead_percent / 100, currency)
        all_cost.append(Part("Overhead", f"{percentage(overhead_percent)} of that", amount))
    added: list[Part] = []
    if markup_percent:
        amount = to_unit(_total(all_cost) * markup_percent / 100, currency)
        added.append(Part("Markup", percentage(markup_percent), amount))
    added += [Part(extra.name, "option", extra.price) for extra in extras]
    so_far = _total(all_cost) + _total(added)
    taxed = tax.included and bool(tax.percent)
    price = rounded(so_far + to_unit(so_far * tax.percent / 100, currency) if taxed else so_far, rule, currency)
    contained = contained_tax(price, tax, currency) if taxed else Decimal(0)
    if rest := price - contained - so_far:
        added.append(Part("Rounding", f"{rule}, with tax" if taxed else str(rule), rest))
    if taxed:
        added.append(Part(tax.name or "Tax", f"{percentage(tax.percent)}, included", contained))
    return BuiltUp(tuple(all_cost), tuple(added), price)


def margin(price: Decimal, cost: Decimal, tax: Tax) -> Margin:
    """What a price leaves the shop."""
    net = price / tax.factor if tax.included else price
    return Margin(net.quantize(Decimal("0.01"), ROUND_HALF_UP), cost)


def sums(lines: Iterable[Decimal], postage: Decimal, tax: Tax, currency: str) -> Sums:
    """What an order comes to, its tax calculated once, on the whole; none where the order bears none."""
    net = sum(lines, Decimal(0))
    whole = net + postage
    if tax.status is not TaxStatus.TAXED:
        relief = contained_tax(whole, tax, currency) if tax.included else Decimal("0.00")
        return Sums(net, postage, Decimal("0.00"), whole - relief, relief)
    if tax.included:
        return Sums(net, postage, contained_tax(whole, tax, currency), whole)
    amount = to_unit(whole * tax.percent / 100, currency)
    return Sums(net, postage, amount, whole + amount)


def contained_tax(whole: Decimal, tax: Tax, currency: str) -> Decimal:
    """The tax that an amount contains, rounded once: the one rule for papers, sums and how a price is built up."""
    return to_unit(whole - whole / tax.factor, currency)


def share(total: Decimal, percent: Decimal) -> Decimal:
    """A deposit: so much of the total, to a whole unit of the currency, and never more than the total."""
    whole = (total * percent / 100).quantize(Decimal(1), ROUND_HALF_UP).quantize(Decimal("0.01"))
    return min(whole, total)


def _total(parts: Iterable[Part]) -> Decimal:
    return sum((part.amount for part in parts), Decimal(0))
