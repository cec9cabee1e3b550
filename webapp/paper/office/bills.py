"""Invoices, credit notes and receipts: what stands on them, and the job for the press."""

from decimal import Decimal

from webapp.models import Bill, BillKind, Paper
from webapp.paper.office.letters import DENSITIES, UNTAXED
from webapp.paper.press import measures
from webapp.paper.press.jobs import Job
from webapp.paper.press.sheets import job
from webapp.shop.billing import numbers
from webapp.shop.orders import issued, prices
from webapp.shop.units.keys import show_note


def bill_job(bill: Bill, size: Paper) -> Job:
    """A bill as it was issued."""
    content, currency = bill.content, bill.currency
    common: dict[str, object] = {
        "c": content,
        "paper": size,
        "kind": str(bill.kind).capitalize(),
        "number": numbers.text(bill),
        "day": measures.named_day(bill.issued_on),
        "is_receipt": bill.kind is BillKind.RECEIPT,
        "is_credit": bill.kind is BillKind.CREDIT_NOTE,
        "day_of": lambda text: measures.named_day(issued.day(text)),
        "money": lambda amount: prices.money(Decimal(amount), currency),
        "total": bill.total,
        "tax": bill.tax,
        "as_note": show_note,
    }
    if bill.kind is not BillKind.RECEIPT:
        common |= {
            "taxed": Decimal(content["tax_percent"]),
            "percent": prices.percentage(Decimal(content["tax_percent"])),
            "postage": Decimal(content["postage"]),
            "untaxed": UNTAXED.get(content.get("tax_status", "taxed"), ""),
            "relief": Decimal(content.get("tax_relief", "0")),
            "paid": Decimal(content.get("paid", "0")),
        }
    return job("bill.html", "letter.css", [{**common, "density": density} for density in DENSITIES], 1)
