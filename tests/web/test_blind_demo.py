"""Of everything that the demo's policy signs for its devices, nothing reaches whoever reads one."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from sqlmodel import Session

from app.demo.profile import document
from app.demo.rounds import as_signed, presets_of
from app.domain.device_reports import FoundOn
from app.domain.people import Role
from app.domain.settings_of_alarms import show_number
from app.storage.database import Database
from tests.builders import a_device, a_signed_revision
from tests.web.blind_readings import asked_in, hidden_in
from tests.web.visits import Visits

NAMES = {"id", "name", "for", "href", "action", "aria-describedby", "value"}
SHAPE = {"maxlength", "size", "viewbox", "d"} | NAMES
"""Attributes that are the same for every policy; a typed value is looked at by itself."""
GRID = {"data-from", "data-to", "data-step"}
NUMBERS = re.compile(r"\d+(?:\.\d+)?")


class Told(HTMLParser):
    """Every number that a page tells, but for the grid of each alarm, which is no secret."""

    def __init__(self) -> None:
        super().__init__()
        self.numbers: set[str] = set()
        self.given: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = {name: value or "" for name, value in attrs}
        if tag == "input" and named.get("type") not in ("hidden", "radio", "checkbox"):
            self.given.append(named.get("value", ""))
        for name, value in named.items():
            if name not in SHAPE | GRID:
                self.numbers |= set(NUMBERS.findall(value))

    def handle_data(self, data: str) -> None:
        self.numbers |= set(NUMBERS.findall(data))


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def ready(tx: Session) -> None:
    a_signed_revision(tx, document=document(1))
    for model in ("dunlin", "turnstone", "petrel"):
        a_device(tx, f"{model}-a", model=model)


def signed_numbers(model: str, preset: str) -> set[str]:
    found = as_signed(presets_of(model, 1)[preset]).values()
    return {show_number(one.limit) for one in found if isinstance(one, FoundOn) and one.limit}


@pytest.mark.parametrize("model", ["dunlin", "turnstone", "petrel"])
def test_no_signed_number_of_any_preset_is_on_a_page_of_its_reading(
    visits: Visits, model: str
) -> None:
    visits.seed(ready)
    femi = visits.of(Role.FLEET_MANAGER)
    start = f"/skerry/devices/{model}-a/read"

    for preset in presets_of(model, 1):
        form = femi.get(start).text
        sent = hidden_in(form) | {
            "preset": preset,
            "state_read": "power-on",
            "trigger": "after service",
            "software": "9",
        }
        address = femi.post(start, data=sent).headers["location"]
        page = femi.get(address).text
        refused = femi.post(address, data={"look": "1"}).text

        signed = signed_numbers(model, preset)
        assert len(asked_in(page)) > 20
        assert len(signed) > 5
        for text in (form, page, refused):
            told = Told()
            told.feed(text[text.index("<main") : text.index("</main>")])
            assert told.numbers & signed == set()
            assert not any(told.given)
