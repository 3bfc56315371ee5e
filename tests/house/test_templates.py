"""What the content policy, autoescape and the shape of the house ask of every template."""

import re
from html.parser import HTMLParser

import pytest
from jinja2 import nodes

from app.places import folder
from app.web.render import environment

TEMPLATES = folder("templates")
NAMES = sorted(path.relative_to(TEMPLATES).as_posix() for path in TEMPLATES.rglob("*.html"))
BY_HTMX = {"hx-get", "hx-post", "hx-put", "hx-patch", "hx-delete"}


class Elements(HTMLParser):
    """Every element as its name and attributes; what Jinja does around them plays no part.

    Helpless are those that only htmx sends anywhere: neither they nor their form have an address.
    """

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.helpless: list[str] = []
        self._form: dict[str, str | None] = {}
        self.feed(markup)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        attributes = dict(attrs)
        self.found.append((tag, attributes))
        if tag == "form":
            self._form = attributes
        if BY_HTMX & set(attributes) and not {"action", "href"} & {*attributes, *self._form}:
            self.helpless.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = {}


def markup(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")


def parsed(name: str) -> Elements:
    without_jinja = re.sub(r"\{%.*?%\}|\{#.*?#\}", " ", markup(name), flags=re.DOTALL)
    return Elements(re.sub(r"\{\{.*?\}\}", "x", without_jinja, flags=re.DOTALL))


def elements(name: str) -> list[tuple[str, dict[str, str | None]]]:
    return parsed(name).found


def is_piece(name: str) -> bool:
    return any(part.startswith("_") for part in name.split("/"))


@pytest.mark.parametrize("name", NAMES)
def test_every_page_stands_in_the_frame_and_every_piece_is_named_as_one(name: str) -> None:
    tree = environment().parse(markup(name))
    in_frame = any(
        isinstance(node.template, nodes.Const) and node.template.value == "base.html"
        for node in tree.find_all(nodes.Extends)
    )

    assert in_frame != (is_piece(name) or name == "base.html")


@pytest.mark.parametrize("name", NAMES)
def test_nothing_leaves_autoescape(name: str) -> None:
    tree = environment().parse(markup(name))
    filters = {node.name for node in tree.find_all(nodes.Filter)}

    assert not filters & {"safe", "forceescape"}
    assert not list(tree.find_all(nodes.ScopedEvalContextModifier))


@pytest.mark.parametrize("name", NAMES)
def test_no_style_and_no_script_stands_in_a_page(name: str) -> None:
    offending = [
        (tag, attribute)
        for tag, attributes in elements(name)
        for attribute in [*attributes, ""]
        if attribute == "style"
        or attribute.startswith(("on", "hx-on", "hx-vals", "hx-vars"))
        or (tag == "style" and not attribute)
        or (tag == "script" and "src" not in attributes)
    ]

    assert offending == []


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_fetched_from_elsewhere(name: str) -> None:
    addresses = [
        value
        for _, attributes in elements(name)
        for attribute in ("src", "href", "action", *BY_HTMX)
        if (value := attributes.get(attribute)) is not None
    ]

    assert [value for value in addresses if re.match(r"(?:[a-z]+:|//)", value)] == []


@pytest.mark.parametrize("name", NAMES)
def test_whatever_htmx_does_works_without_script_too(name: str) -> None:
    assert parsed(name).helpless == []


@pytest.mark.parametrize("name", NAMES)
def test_a_form_says_how_and_where_it_is_sent(name: str) -> None:
    forms = [attributes for tag, attributes in elements(name) if tag == "form"]

    assert [form for form in forms if not {"method", "action"} <= set(form)] == []
