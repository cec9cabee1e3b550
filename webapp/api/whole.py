"""What is about the whole shop: who the key speaks for, search, dates, people's hours."""

from webapp.api.orders import shown_dates
from webapp.api.problems import Problem
from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Shop
from webapp.shop import finding, promise, search, working_days
from webapp.shop.exporting import plain
from webapp.shop.queue_dates import MOST_NEW


def me(call: Call) -> Answer:
    shop = finding.find(call.session, Shop, 1, "shop")
    return Answer({"id": call.who.id, "name": call.who.name, "role": str(call.who.role), "shop": shop.name})


def find(call: Call) -> Answer:
    found = search.find(call.session, call.query.get("q", ""))
    return Answer(
        {
            "key": found.key,
            "blanks": [row(one.blank, note=found.note("blank", one.blank.id)) for one in found.blanks],
            "orders": [
                row(one.order, customer=one.customer.name, note_found=found.note("order", one.order.id))
                for one in found.orders
            ],
            "customers": [row(one.customer) for one in found.customers],
            "patterns": rows(found.patterns),
            "lots": rows(found.lots),
        }
    )


def dates(call: Call) -> Answer:
    count = call.query_id("flutes") or 1
    if count > MOST_NEW:
        raise Problem("invalid", f"Dates are kept for up to {MOST_NEW} flutes.", {"flutes": f"At most {MOST_NEW}."})
    back = promise.looked_back(call.session)
    return Answer(
        {
            "dates": shown_dates(promise.for_new(call.session, count)),
            "looked_back": {name: back[name] for name in ("safe_held", "likely_held")} | {"orders": len(back["orders"])}
            if back
            else None,
            "late_foreseen": [
                {"order": one.number, "likely": plain(one.likely), "on_time": one.on_time}
                for one in promise.foreseen_late(call.session).values()
            ],
        }
    )


def hours(call: Call) -> Answer:
    weeks = [
        {
            "person_id": week.person.id,
            "name": week.person.name,
            "assumed": week.assumed,
            **dict(zip(working_days.WEEKDAYS, week.hours, strict=True)),
        }
        for week in working_days.weeks(call.session)
    ]
    return Answer({"items": weeks, "closed": rows(working_days.days_off(call.session))})


WAYS = [
    Way("GET", "/me", "Whom this key speaks for", me, shows="me"),
    Way("GET", "/search", "Everything that goes by some words", find, shows="found", query={"q": "words"}),
    Way(
        "GET", "/promise", "When an order taken now would be ready", dates, shows="dates", query={"flutes": "how many"}
    ),
    Way("GET", "/hours", "Hours at the bench, closed days", hours, shows="hours"),
]
