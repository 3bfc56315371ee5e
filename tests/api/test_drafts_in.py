"""A profile sent in as a new draft, and revisions read back."""

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.domain.profiles import fingerprint
from app.storage.database import Database
from tests.builders import a_document, a_signed_revision
from tests.web.visits import Visits

HERE = "/api/v1/skerry/revisions"
DOCUMENT = a_document() | {"agency": "Skerry Ambulance"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    return found


def send(client: TestClient, body: object, kind: str = "application/json") -> Response:
    text = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(HERE, content=text, headers={"Content-Type": kind})


def listed(visits: Visits) -> list[tuple[int, str]]:
    told = visits.of(Role.CREW).get(HERE).json()
    return [(one["number"], one["status"]) for one in told]


@pytest.mark.parametrize(
    ("role", "status"),
    [
        (Role.AUTHOR, 201),
        (Role.MEDICAL_DIRECTOR, 201),
        (Role.REVIEWER, 403),
        (Role.FLEET_MANAGER, 403),
    ],
)
def test_who_may_start_a_draft(visits: Visits, role: Role, status: int) -> None:
    assert send(visits.of(role), DOCUMENT).status_code == status


def test_it_gets_the_next_number_and_the_agencys_name(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)

    answer = send(anna, a_document() | {"revision": 77, "agency": "Somebody else"})

    told = answer.json()
    assert (answer.status_code, answer.headers["location"]) == (201, f"{HERE}/2")
    assert (told["number"], told["status"], told["signatures"]) == (2, "draft", [])
    assert (told["document"]["revision"], told["document"]["agency"]) == (2, "Skerry Ambulance")
    assert told["fingerprint"] == fingerprint(told["document"])
    assert anna.get(answer.headers["location"]).json() == told
    assert listed(visits) == [(1, "in-force"), (2, "draft")]


@pytest.mark.parametrize(
    ("body", "line", "column", "why"),
    [
        ('{"format": "marchstone-profile/1",\n "mood": 1}', 2, 10, "mood: unknown key"),
        ('{"format": NaN}', 1, 12, "expected a value"),
        ('{"format": 1, "format": 2}', 1, 15, "stands twice"),
        ('{"revision": 1e309}', 1, 14, "too large a number"),
        ('{"format": "marchstone', 1, 12, "unterminated string"),
        (b"\xff", 1, "file", "not UTF-8"),
        ("[" * 100, 1, 42, "nested too deeply"),
    ],
)
def test_what_is_no_profile_is_told_by_its_place(
    visits: Visits, body: str | bytes, line: int, column: int | str, why: str
) -> None:
    answer = send(visits.of(Role.AUTHOR), body)

    told: dict[str, Any] = answer.json()
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert why in told["detail"]
    assert (line, column) in {(one["line"], one["column"]) for one in told["errors"]}
    assert listed(visits) == [(1, "in-force")]


def test_a_limit_as_text_is_told_by_its_place(visits: Visits) -> None:
    document = deepcopy(DOCUMENT)
    document["settings"]["infant"]["heart-rate-low"]["limit"] = "90"
    text = json.dumps(document, indent=1)
    line = next(n for n, one in enumerate(text.split("\n"), 1) if '"limit": "90"' in one)

    (fault,) = send(visits.of(Role.AUTHOR), text).json()["errors"]

    assert (fault["line"], fault["value"]) == (line, "90")
    assert fault["reason"] == "settings / infant / heart-rate-low / limit: must be a number"


def test_another_kind_of_text_is_told(visits: Visits) -> None:
    answer = send(visits.of(Role.AUTHOR), DOCUMENT, kind="text/plain")

    assert (answer.status_code, listed(visits)) == (415, [(1, "in-force")])


def test_another_site_cannot_start_a_draft(visits: Visits) -> None:
    answer = visits.of(Role.AUTHOR).post(
        HERE, content=json.dumps(DOCUMENT), headers={"Sec-Fetch-Site": "cross-site"}
    )

    assert (answer.status_code, listed(visits)) == (403, [(1, "in-force")])


@pytest.mark.parametrize("number", [2, 999])
def test_a_revision_that_is_not_there(visits: Visits, number: int) -> None:
    assert visits.of(Role.CREW).get(f"{HERE}/{number}").status_code == 404
