"""The forms of a page, as its own HTML has them, and what somebody might send with them."""

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any, Final

from hypothesis import strategies as st

DIGITS: Final = st.text("0123456789.,-+/ eE\"'\N{MINUS SIGN}٣", max_size=10)
TYPED: Final = st.one_of(
    st.text(max_size=12),
    DIGITS,
    st.dates().map(str),
    st.datetimes().map(lambda moment: moment.isoformat(timespec="minutes")),
    st.integers(-(2**70), 2**70).map(str),
    st.floats().map(str),
    st.sampled_from(
        ["", "0", "1", "-1", "1e999", "5/8", "A4", "on", "\x00", "\ud83e\udd2f" * 3, "<b>'\"&{{7*7}}", "x" * 3000]
    ),
)


@dataclass
class Field:
    """One field: its kind, what it holds when the page comes, and what it offers."""

    name: str
    kind: str = "text"
    value: str = ""
    offers: list[str] = field(default_factory=list)


@dataclass
class FoundForm:
    """Where a form goes to, and its fields."""

    action: str
    method: str
    encoding: str
    fields: list[Field] = field(default_factory=list)

    @property
    def mark(self) -> tuple[str, ...]:
        """The same for forms that differ only in what they hold or whose thing they are about."""
        return (re.sub(r"\d+", "1", self.action), *sorted({one.name for one in self.fields}))


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[FoundForm] = []
        self._form: FoundForm | None = None
        self._field: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = FoundForm(
                given.get("action", ""), given.get("method", "get").lower(), given.get("enctype", "")
            )
            self.forms.append(self._form)
        if self._form is None:
            return
        if tag in ("input", "select", "textarea", "button") and given.get("name"):
            self._field = Field(given["name"], given.get("type", tag), given.get("value", ""))
            self._form.fields.append(self._field)
        if tag == "option" and self._field is not None:
            self._field.offers.append(given.get("value", ""))
            if "selected" in given or not self._field.value:
                self._field.value = given.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None


def forms(html: str, at: str) -> list[FoundForm]:
    """The forms of a page that change something; one without an action goes to the page itself."""
    reader = _Reader()
    reader.feed(html)
    for form in reader.forms:
        form.action = form.action or at
    return [form for form in reader.forms if form.method == "post"]


def links(html: str) -> set[str]:
    """Where a page leads, within the shop."""
    found: set[str] = set()

    class Links(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            address = dict(attrs).get("href") or ""
            if tag == "a" and address.startswith("/") and not address.startswith("//"):
                found.add(address.partition("#")[0])

    Links().feed(html)
    return found


@st.composite
def sent(draw: st.DrawFn, form: FoundForm) -> dict[str, list[str]]:
    """What goes out: most fields as the page has them, some typed again, given twice, left out or unheard of."""
    data: dict[str, list[str]] = {}
    again = draw(st.sampled_from([0.2, 0.5, 1.0]))
    for one in form.fields:
        known: list[Any] = [one.value, *one.offers[:4]]
        if one.name == "once":
            continue
        typed = TYPED if draw(st.floats(0, 1)) < again else st.sampled_from(known)
        how = draw(st.integers(0, 9))
        data[one.name] = [] if how == 0 else [draw(typed) for _ in range(2 if how == 1 else 1)]
    if draw(st.booleans()):
        data[draw(st.sampled_from(["id", "role", "version", "price", "colour", ""]))] = [draw(TYPED)]
    return {name: [_sendable(text) for text in texts] for name, texts in data.items()}


def _sendable(text: str) -> str:
    """As a browser would encode it: half a pair of surrogates becomes a replacement character."""
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
