"""A revision as a workbook, out and back in."""

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.api.bodies import XLSX
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_signed_revision
from tests.web.visits import Visits
from tests.workbooks import with_cells

HERE = "/api/v1/skerry/revisions"
FILE = f"{HERE}/1/profile.xlsx"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    return found


def post(client: TestClient, raw: bytes, kind: str = XLSX) -> tuple[int, dict[str, Any]]:
    answer = client.post(HERE, content=raw, headers={"Content-Type": kind})
    return answer.status_code, answer.json()


def test_only_members_are_answered(visits: Visits) -> None:
    assert TestClient(visits.app).get(FILE).status_code == 401
    assert visits.of_outsider().get(FILE).status_code == 404
    assert visits.of(Role.CREW).get(FILE).headers["content-type"] == XLSX
    assert visits.of(Role.CREW).get(f"{HERE}/7/profile.xlsx").status_code == 404


def test_a_workbook_starts_a_draft_with_the_same_document(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    before = anna.get(f"{HERE}/1").json()["document"]

    status, told = post(anna, anna.get(FILE).content)

    assert (status, told["document"]) == (201, before | {"revision": 2})


def test_a_fault_names_its_cell(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    raw = with_cells(anna.get(FILE).content, {"Categories!D2": "soon"})

    status, told = post(anna, raw)

    assert status == 422
    (fault,) = told["errors"]
    assert (fault["line"], fault["column"], fault["value"]) == (None, "Categories!D2", "soon")
    assert [one["number"] for one in anna.get(HERE).json()] == [1]
