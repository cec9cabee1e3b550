"""Form fields as a browser and a screen reader meet them."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

import pytest

from webapp.pages.frame.forms import Form
from webapp.pages.frame.rendering import environment

ENV = environment()
OPTIONS = [("A4", "A4"), ('5/8"', "five eighths", "a quote in its value")]


@dataclass
class Page(HTMLParser):
    """Every element's attributes by tag, and the text."""

    found: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    text: str = ""

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data

    def all(self, tag: str, **wanted: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.found if name == tag and wanted.items() <= attrs.items()]

    def one(self, tag: str, **wanted: str) -> dict[str, str | None]:
        (only,) = self.all(tag, **wanted)
        return only


def render(body: str, form: Form | None = None, **context: Any) -> Page:
    names = "summary, text, number, password, date, note, choice, radios, checkbox, checkboxes, upload, hidden, "
    names += "button, link_button, buttons, act"
    source = f'{{% from "frame/_fields.html" import {names} with context %}}{body}'
    page = Page()
    page.feed(ENV.from_string(source).render(form=form or Form(), **context))
    return page


FIELDS = {
    "text": '{{ text(form, "x", "Name", hint="As on the papers") }}',
    "number": '{{ number(form, "x", "Bore", hint="Inside", unit="mm") }}',
    "password": '{{ password(form, "x", "Password", hint="Twelve or more") }}',
    "date": '{{ date(form, "x", "Due", hint="A day") }}',
    "note": '{{ note(form, "x", "Note", hint="What happened") }}',
    "choice": '{{ choice(form, "x", "Key", [("A4", "A4")], hint="Lowest note") }}',
    "radios": '{{ radios(form, "x", "Key", [("A4", "A4")], hint="Lowest note") }}',
    "checkboxes": '{{ checkboxes(form, "x", "Extras", [("A4", "A4")], hint="Any") }}',
    "checkbox": '{{ checkbox(form, "x", "Rush", hint="Costs more") }}',
    "upload": '{{ upload(form, "x", "Photo", hint="A picture") }}',
}


@pytest.mark.parametrize("source", FIELDS.values(), ids=FIELDS.keys())
def test_hint_and_message_are_tied_to_their_field(source: str) -> None:
    page = render(source, Form({"x": "A4" if "checkboxes" not in source else ["A4"]}, {"x": "Please fill this in."}))
    described = [attrs for _, attrs in page.found if attrs.get("aria-invalid") == "true"]
    assert len(described) == 1
    ids = {attrs["id"] for _, attrs in page.found if "id" in attrs}
    assert (described[0]["aria-describedby"] or "").split() == ["f-x-hint", "f-x-wrong"]
    assert {"f-x", "f-x-hint", "f-x-wrong"} <= ids
    assert "Please fill this in." in page.text


@pytest.mark.parametrize("source", FIELDS.values(), ids=FIELDS.keys())
def test_every_field_has_a_name_for_a_screen_reader(source: str) -> None:
    page = render(source)
    labelled = {attrs.get("for") for attrs in page.all("label")}
    wrapped = {"radios", "checkboxes", "checkbox"} & {kind for kind, text in FIELDS.items() if text == source}
    assert "f-x" in labelled or wrapped
    assert not [attrs for _, attrs in page.found if attrs.get("aria-invalid")]


def test_what_was_typed_is_kept_and_escaped() -> None:
    form = Form({"bore": '5/8" & <b>', "note": "</textarea><script>"}, {"bore": "No <i>length</i>."})
    page = render('{{ number(form, "bore", "Bore") }}{{ note(form, "note", "Note") }}', form)
    assert page.one("input", name="bore")["value"] == '5/8" & <b>'
    assert not page.all("script") and not page.all("b") and not page.all("i")
    assert "</textarea><script>" in page.text


def test_a_password_is_never_sent_back() -> None:
    page = render('{{ password(form, "secret", "Password") }}', Form({"secret": "hunter22"}))
    assert "value" not in page.one("input", name="secret")


@pytest.mark.parametrize("chosen", ["A4", '5/8"'])
def test_the_chosen_option_stays_chosen(chosen: str) -> None:
    source = '{{ choice(form, "key", "Key", options) }}{{ radios(form, "tile", "Tile", options) }}'
    page = render(source, Form({"key": chosen, "tile": chosen}), options=OPTIONS)
    selected = [attrs["value"] for attrs in page.all("option") if "selected" in attrs]
    checked = [attrs["value"] for attrs in page.all("input", name="tile") if "checked" in attrs]
    assert selected == checked == [chosen]


def test_several_ticks_of_one_name_stay_ticked() -> None:
    page = render('{{ checkboxes(form, "e", "Extras", ["case", "stand", "inlay"]) }}', Form({"e": ["case", "inlay"]}))
    assert [a["value"] for a in page.all("input", name="e") if "checked" in a] == ["case", "inlay"]


@pytest.mark.parametrize(("value", "ticked"), [(True, True), ("on", True), (False, False), ("", False), (None, False)])
def test_a_tick_box_follows_its_value(value: object, ticked: bool) -> None:
    page = render('{{ checkbox(form, "rush", "Rush") }}', Form({"rush": value}))
    assert ("checked" in page.one("input", name="rush")) is ticked


def test_the_summary_links_to_each_field_and_names_it() -> None:
    form = Form({}, {"due_on": "Please fill this in.", "": "Somebody else changed this order."})
    page = render('{{ summary(form) }}{{ date(form, "due_on", "Due") }}', form)
    assert page.one("a", href="#f-due_on")
    assert "Due on: Please fill this in." in page.text
    assert "Somebody else changed this order." in page.text
    assert page.one("div", role="alert")["tabindex"] == "-1"
    assert not render("{{ summary(form) }}").found


def test_a_form_carries_its_one_time_key() -> None:
    page = render('<form>{{ buttons("Save") }}</form>{{ act("/scrap", "Scrap") }}', once="abc123")
    assert [attrs["value"] for attrs in page.all("input", name="once")] == ["abc123", "abc123"]
    assert page.one("form", action="/scrap")["method"] == "post"
    assert not render('{{ buttons("Save") }}').all("input")


def test_two_forms_on_one_page_keep_their_ids_apart() -> None:
    class Second(Form):
        id = "second"

    page = render('{{ text(form, "x", "Name") }}{{ text(other, "x", "Name") }}', other=Second())
    ids = [attrs["id"] for attrs in page.all("input")]
    assert ids == ["f-x", "second-f-x"]
