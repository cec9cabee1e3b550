"""Whether a page is HTML that every browser reads alike.

Sources: the HTML standard's parsing errors (13.2.2), as tinyhtml5 reports them, and of its content models those that
a parser lets pass: ids are unique (3.2.3.1), what refers to an id finds it (4.10.4 `for`, 6.6 `aria-*`), an option
says something (4.10.10), nothing that is clicked lies in something that is clicked (3.2.5.2.7), and a list, a table or
a phrase holds what it may.
"""

from collections import Counter
from collections.abc import Iterator
from xml.etree.ElementTree import Element

from tinyhtml5.parser import HTMLParser

REFERENCES = ("for", "aria-labelledby", "aria-describedby", "aria-controls", "aria-owns", "list", "form", "headers")
LABELABLE = {"button", "input", "meter", "output", "progress", "select", "textarea"}
CLICKED = {"a", "button", "label", "select", "textarea", "input", "summary"}
# What may hold phrases alone, and what is more than a phrase.
PHRASES = {"p", "span", "b", "i", "em", "strong", "small", "label", "button", "h1", "h2", "h3", "h4", "dt", "code"} | {
    "abbr", "cite", "kbd", "mark", "output", "q", "s", "sub", "sup", "time", "u", "var", "pre",
}  # fmt: skip
BLOCKS = {"div", "p", "ul", "ol", "dl", "table", "form", "fieldset", "section", "article", "figure", "hr", "pre"} | {
    "h1", "h2", "h3", "h4", "details", "header", "footer", "nav", "aside", "main", "blockquote", "li",
}  # fmt: skip
ONLY = {
    "ul": {"li", "script", "template"},
    "ol": {"li", "script", "template"},
    "dl": {"dt", "dd", "div", "script", "template"},
    "select": {"option", "optgroup", "hr"},
    "tr": {"td", "th", "script", "template"},
}


def faults(html: str) -> list[str]:
    """What is not valid in a page or a part of one, each with its line; empty where all is."""
    whole = html.lstrip()[:9].lower() == "<!doctype"
    parser = HTMLParser(namespace_html_elements=False)
    root = parser.parse(html) if whole else parser.parse(html, container="div")
    found = [f"line {line}: {name} {about or ''}".rstrip() for (line, _), name, about in parser.errors]
    elements = [one for one in root.iter() if isinstance(one.tag, str)]
    ids = Counter(one.get("id") for one in elements if one.get("id") is not None)
    found += [f"id {name!r} stands {count} times" for name, count in ids.items() if count > 1 or not name]
    found += [fault for one in elements for fault in _refers(one, ids if whole else None)]
    labelled = {one.get("id"): one for one in elements if one.tag in LABELABLE}
    if whole:
        found += [
            f"label for {one.get('for')!r} is for nothing that can have one"
            for one in elements
            if one.tag == "label" and one.get("for") in ids and one.get("for") not in labelled
        ]
    found += list(_inside(root, ()))
    return found


def _refers(one: Element, ids: Counter[str | None] | None) -> Iterator[str]:
    if ids is None:
        return
    for name in REFERENCES:
        for target in (one.get(name) or "").split():
            if target not in ids:
                yield f"<{one.tag} {name}={target!r}> finds nothing"
    href = one.get("href") or ""
    if one.tag == "a" and href.startswith("#") and href[1:] and href[1:] not in ids:
        yield f"a link to {href!r} finds nothing"


def _inside(one: Element, around: tuple[str, ...]) -> Iterator[str]:
    tag = str(one.tag)
    if tag.startswith("{") or tag in ("svg", "template"):
        return
    text = "".join(one.itertext()).strip()
    if tag == "option" and not text and not one.get("label") and "datalist" not in around:
        yield f"an option without words in {around[-2:]}"
    if tag in ("h1", "h2", "h3", "h4", "label", "legend", "caption") and not text and len(one) == 0:
        yield f"an empty <{tag}>"
    if tag in CLICKED and (outer := CLICKED & set(around)) and outer != {"label"} and one.get("type") != "hidden":
        yield f"<{tag}> in <{'>, <'.join(sorted(outer))}>"
    if tag in BLOCKS and (outer := PHRASES & set(around)):
        yield f"<{tag}> in <{'>, <'.join(sorted(outer))}>"
    for child in one:
        if isinstance(child.tag, str) and tag in ONLY and child.tag not in ONLY[tag]:
            yield f"<{child.tag}> in <{tag}>"
        yield from _inside(child, (*around, tag))
