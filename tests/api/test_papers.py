from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_draft, a_signed_revision
from tests.printed import pages, text
from tests.web.visits import Visits

PAPER = "/api/v1/skerry/revisions/{}/paper.pdf"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_draft)
    return found


def test_a_program_gets_the_paper_of_a_signed_revision(visits: Visits) -> None:
    answer = visits.of(Role.CREW).get(PAPER.format(1))

    assert answer.headers["content-type"] == "application/pdf"
    assert "IN FORCE when printed" in text(answer.content)


def test_the_paper_of_a_draft_says_so_on_every_page(visits: Visits) -> None:
    told = pages(visits.of(Role.CREW).get(PAPER.format(2)).content)

    assert all("DRAFT, not signed" in page for page in told)


def test_strangers_get_no_paper_and_outsiders_find_none(visits: Visits) -> None:
    answers = [
        client.get(PAPER.format(1)) for client in (TestClient(visits.app), visits.of_outsider())
    ]

    assert [answer.status_code for answer in answers] == [401, 404]


def test_a_revision_that_is_not_there_is_a_problem_with_details(visits: Visits) -> None:
    answer = visits.of(Role.CREW).get(PAPER.format(9))

    assert answer.status_code == 404
    assert answer.json()["detail"] == "There is no revision 9."


def test_the_description_of_the_api_says_that_it_is_a_pdf(visits: Visits) -> None:
    described = TestClient(visits.app).get("/api/v1/openapi.json").json()

    told = described["paths"]["/api/v1/{agency}/revisions/{number}/paper.pdf"]["get"]

    assert list(told["responses"]["200"]["content"]) == ["application/pdf"]
