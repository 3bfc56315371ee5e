"""Hostile text in every field of every form: shown as text, never as markup, formula or failure."""

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.finding_life import FindingStatus
from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_findings import a_finding
from tests.builders import a_draft, a_person_of_every_role
from tests.web.test_every_address import ADDRESSES
from tests.web.visits import Visits

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "{{ 7 * 7 }}{% raw %}",
    '=HYPERLINK("http://x")',
    "javascript:alert(1)",
    "\u202egnp.exe",
    "a\0b\x1b[31m",
    "%00%0d%0aSet-Cookie: a=b",
    "'; DROP TABLE ledger; --",
    "🚑" * 20,
)
KNOWN = {"agency": "skerry", "number": "1", "tag": "boat-3", "category": "preschool"}
LEFT_ALONE = frozenset({"hidden", "checkbox", "radio", "submit", "file", "password"})
MARKUP = re.compile(r"<script>alert|<img src=x|onmouseover='alert|onerror=alert\(1\)>", re.I)


@dataclass
class Form:
    action: str
    fields: list[tuple[str, str, str]]  # name, kind, value


class Forms(HTMLParser):
    """Every form of a page that changes something."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[Form] = []
        self._open = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._open = told.get("method", "get").lower() == "post"
            if self._open:
                self.found.append(Form(told.get("action", ""), []))
        elif self._open and tag in ("input", "textarea", "select") and told.get("name"):
            kind = told.get("type", "text") if tag == "input" else tag
            self.found[-1].fields.append((told["name"], kind, told.get("value", "")))

    def handle_endtag(self, tag: str) -> None:
        self._open = self._open and tag != "form"


def something_of_everything(tx: Session) -> None:
    a_finding(tx, FindingStatus.CONTAINED)
    a_draft(tx)
    a_person_of_every_role(tx)


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(something_of_everything)
    return visits


def pages() -> list[str]:
    """Those whose address can be filled in with what is there."""
    paths = {path for method, path in ADDRESSES if method == "GET" and path.startswith("/{agency}")}
    filled = {re.sub(r"\{(\w+)\}", lambda one: KNOWN.get(one[1], "1"), path) for path in paths}
    return sorted(filled)


def forms_of(client: TestClient) -> Iterator[tuple[str, Form]]:
    for path in pages():
        answer = client.get(path)
        if answer.status_code == 200 and "text/html" in answer.headers["content-type"]:
            parser = Forms()
            parser.feed(answer.text)
            yield from ((path, form) for form in parser.found)


def filled_in(form: Form, words: str) -> dict[str, str]:
    return {name: value if kind in LEFT_ALONE else words for name, kind, value in form.fields}


def test_every_field_of_every_form_takes_hostile_text_as_text(visits: Visits) -> None:
    alma = visits.of(Role.MEDICAL_DIRECTOR, "Alma")
    tried = {(form.action or path): (path, form) for path, form in forms_of(alma)}
    failed, marked = [], []

    for number, (path, form) in enumerate(tried.values()):
        for words in HOSTILE:
            answer = alma.post(form.action or path, data=filled_in(form, f"{words}{number}"))
            if answer.status_code >= 500:
                failed.append((form.action, words, answer.status_code))
            if MARKUP.search(answer.text):
                marked.append((form.action, words))

    assert len(tried) > 20
    assert failed == []
    assert marked == []
    assert [path for path in pages() if MARKUP.search(alma.get(path).text)] == []
    assert [path for path in pages() if alma.get(path).status_code >= 500] == []


def test_the_search_would_see_it() -> None:
    for words in HOSTILE[:3]:
        assert MARKUP.search(f"<p class='{words}'>{words}</p>")
        assert not MARKUP.search(html.escape(words))


def test_what_was_typed_in_begins_no_formula_in_any_export(visits: Visits) -> None:
    alma = visits.of(Role.MEDICAL_DIRECTOR, "Alma")
    alma.post("/skerry/fleet/add", data={"tag": "boat-7", "model": "=1+1", "station": "@sum(A1)"})
    alma.post("/skerry/fleet/add", data={"tag": "boat-8", "model": "+dunlin", "station": "-2"})
    exports = [path for path in pages() if path.endswith(".csv")]

    cells = [
        cell
        for path in exports
        for line in alma.get(path).text.splitlines()[1:]
        for cell in line.split(",")
    ]

    assert exports
    assert any("@sum(A1)" in cell for cell in cells)
    assert [cell for cell in cells if cell.lstrip('"')[:1] in ("=", "@", "+")] == []
