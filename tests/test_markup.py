"""The check of every page's HTML finds what it is for."""

import pytest

from tests.markup import faults

PAGE = '<!DOCTYPE html><html lang="en"><head><title>A page</title></head><body><main>{}</main></body></html>'


@pytest.mark.parametrize(
    ("html", "says"),
    [
        ("<p>One.</p></p>", "unexpected-end-tag"),
        ("<p>One.<pre>two</pre></p>", "unexpected-end-tag"),
        ('<input id="f-note"><input id="f-note">', "id 'f-note' stands 2 times"),
        ('<b title="a" title="b">x</b>', "duplicate-attribute"),
        ('<label for="f-gone">Note</label>', "<label for='f-gone'> finds nothing"),
        ('<label for="x">Note</label><div id="x"></div>', "label for 'x'"),
        ('<input aria-label="x" aria-describedby="a-hint">', "aria-describedby='a-hint'> finds nothing"),
        ('<a href="#below">Below</a>', "a link to '#below'"),
        ('<select><option value=""></option></select>', "an option without words"),
        ('<a href="/"><button>Go</button></a>', "<button> in <a>"),
        ("<span><div>x</div></span>", "<div> in <span>"),
        ("<ul><p>x</p></ul>", "<p> in <ul>"),
        ("<table><caption></caption><tr><td>1</td></tr></table>", "an empty <caption>"),
    ],
)
def test_a_fault_is_found(html: str, says: str) -> None:
    assert any(says in found for found in faults(PAGE.format(html))), faults(PAGE.format(html))


def test_a_sound_page_has_none() -> None:
    sound = (
        '<form action="/x"><label for="a">Key</label><select id="a"><option value="">(choose)</option></select>'
        '<label>Size <input name="s" aria-describedby="h"></label><span id="h">in mm</span>'
        '<datalist><option value="A4"></option></datalist><a href="#a">Key</a></form>'
        "<table><caption>Sizes</caption><tbody><tr><td>1</td></tr></tbody></table>"
    )
    assert faults(PAGE.format(sound)) == []
    assert faults('<p id="part">A part of a page.</p>') == []
