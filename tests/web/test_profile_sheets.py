"""A policy in a spreadsheet: taken out, changed, and brought back whole or not at all."""

import html
import json
import re
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.actions.revisions import edit_draft
from app.domain.people import Role
from app.domain.profiles import fingerprint
from app.exchange.profile_xlsx import MEDIA
from app.storage.database import Database
from tests.builders import a_document, a_person, a_revision_in_review
from tests.web.policies import DRAFT, POLICY, an_unsafe_draft, stored
from tests.web.visits import Visits
from tests.workbooks import opened, with_cells

FILE = f"{DRAFT}/profile.xlsx"
UPLOAD = f"{DRAFT}/upload"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(an_unsafe_draft)
    return found


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    return visits.of(Role.AUTHOR)


def place_of(raw: bytes, category: str, alarm: str) -> str:
    """Where its limit stands."""
    page = opened(raw)["Settings"]
    row = next(row for row in page if [row[0].value, row[1].value] == [category, alarm])
    return f"Settings!D{row[0].row}"


def send(client: TestClient, raw: bytes, path: str = UPLOAD, **fields: str) -> Response:
    return client.post(path, files={"profile": ("ours.xlsx", raw)}, data=fields)


def limit_of(document: dict[str, Any]) -> object:
    return document["settings"]["preschool"]["heart-rate-high"]["limit"]


def test_whoever_sees_the_policy_can_take_it_out(visits: Visits) -> None:
    answer = visits.of(Role.CREW).get(FILE)

    assert answer.headers["content-type"] == MEDIA
    assert answer.headers["content-disposition"] == (
        'attachment; filename="skerry-revision-1.xlsx"'
    )
    assert f'href="{FILE}"' in visits.of(Role.CREW).get(DRAFT).text


def test_what_comes_back_unchanged_has_the_same_fingerprint(
    anna: TestClient, visits: Visits
) -> None:
    before = fingerprint(stored(visits))

    answer = send(anna, anna.get(FILE).content)

    assert (answer.status_code, answer.headers["location"]) == (303, DRAFT)
    assert fingerprint(stored(visits)) == before


def test_a_changed_limit_goes_into_the_draft(anna: TestClient, visits: Visits) -> None:
    raw = anna.get(FILE).content

    send(anna, with_cells(raw, {place_of(raw, "preschool", "heart-rate-high"): 172.5}))

    assert limit_of(stored(visits)) == 172.5


def test_a_workbook_becomes_a_new_draft(anna: TestClient, visits: Visits) -> None:
    answer = send(anna, anna.get(FILE).content, f"{POLICY}/upload")

    assert answer.headers["location"] == f"{POLICY}/2"
    assert stored(visits, 2) == stored(visits) | {"revision": 2}


@pytest.mark.parametrize("path", [UPLOAD, f"{POLICY}/upload"])
def test_what_is_wrong_is_told_by_its_cell_and_nothing_is_stored(
    anna: TestClient, visits: Visits, path: str
) -> None:
    raw, before = anna.get(FILE).content, stored(visits)
    place = place_of(raw, "preschool", "heart-rate-high")

    page = send(anna, with_cells(raw, {place: "17o"}), path)

    assert page.status_code == 422
    assert "ours.xlsx was refused; nothing was stored." in page.text
    assert f"{place}: must be a number (here: 17o)" in page.text
    assert stored(visits) == before
    assert anna.get(f"{POLICY}/2").status_code == 404


def test_json_is_taken_by_its_content(anna: TestClient, visits: Visits) -> None:
    document = stored(visits)
    document["settings"]["preschool"]["heart-rate-high"]["limit"] = 171

    answer = send(anna, json.dumps(document).encode(), edit_version="1")

    assert answer.status_code == 303
    assert limit_of(stored(visits)) == 171


def somebody_saves(visits: Visits, limit: int) -> None:
    def save(tx: Any) -> None:
        document = a_document({"heart-rate-high": limit})
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        edit_draft(tx, number=1, document=document, edit_version=1, by=dana, now=visits.now)

    visits.seed(save)


def test_who_comes_second_sees_both_versions_and_may_save_on_top(
    anna: TestClient, visits: Visits
) -> None:
    raw = anna.get(FILE).content
    mine = with_cells(raw, {place_of(raw, "preschool", "heart-rate-high"): 172})
    somebody_saves(visits, 178)

    page = send(anna, mine, edit_version="2")  # the page is newer than the workbook

    assert page.status_code == 409
    assert all(limit in page.text for limit in ("178", "172"))
    assert limit_of(stored(visits)) == 178
    fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page.text))
    again = anna.post(UPLOAD, data={name: html.unescape(text) for name, text in fields.items()})
    assert again.status_code == 303
    assert limit_of(stored(visits)) == 172


def test_a_workbook_of_another_revision_counts_as_the_page_that_sends_it(
    anna: TestClient, visits: Visits
) -> None:
    send(anna, anna.get(FILE).content, f"{POLICY}/upload")
    other = anna.get(f"{POLICY}/2/profile.xlsx").content
    somebody_saves(visits, 178)

    assert send(anna, other, edit_version="1").status_code == 409
    assert send(anna, other, edit_version="2").status_code == 303


def test_only_a_draft_takes_a_file(visits: Visits) -> None:
    visits.seed(a_revision_in_review)
    anna = visits.of(Role.AUTHOR)
    raw = anna.get(f"{POLICY}/2/profile.xlsx").content

    assert anna.get(f"{POLICY}/2/upload").status_code == 409
    assert send(anna, raw, f"{POLICY}/2/upload").status_code == 409
    assert f"{POLICY}/2/upload" not in anna.get(f"{POLICY}/2").text


def test_the_form_tells_the_edit_version_and_leads_to_both_files(anna: TestClient) -> None:
    page = anna.get(UPLOAD).text

    assert 'name="edit_version" value="1"' in page
    assert f'href="{FILE}"' in page
    assert f'href="{UPLOAD}"' in anna.get(DRAFT).text


@pytest.mark.parametrize("role", [Role.CREW, Role.REVIEWER, Role.FLEET_MANAGER])
def test_who_writes_no_policy_brings_nothing_back(visits: Visits, role: Role) -> None:
    reader, before = visits.of(role), stored(visits)

    assert reader.get(UPLOAD).status_code == 403
    assert send(reader, reader.get(FILE).content).status_code == 403
    assert stored(visits) == before


def test_an_empty_choice_is_told(anna: TestClient) -> None:
    assert anna.post(UPLOAD, data={"edit_version": "1"}).status_code == 422
