"""Accounts by the API: an administrator of the agency gives access; a token only ends it."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role, Scope
from app.storage.database import Database
from tests.api.test_tokens import given, program
from tests.storage.ledgers import bodies
from tests.web.visits import Visits

PEOPLE = "/api/v1/skerry/people"
TESS = {"username": "tess", "name": "Tess Loft", "roles": ["technician"]}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def ada(visits: Visits) -> TestClient:
    return visits.of(Role.ADMINISTRATOR)


def did(visits: Visits) -> list[tuple[str, str]]:
    with visits.database.reading() as tx:
        return [(one["did"], one["by"]) for one in bodies(tx)]


def test_everybody_of_the_agency_is_listed_and_nobody_else(visits: Visits, ada: TestClient) -> None:
    visits.of(Role.CREW)
    visits.of_outsider()

    told = ada.get(PEOPLE).json()

    assert [(one["username"], one["roles"], one["closed"]) for one in told] == [
        ("ada", ["administrator"], False),
        ("cruz", ["crew"], False),
    ]


def test_whoever_is_invited_sets_a_password_by_the_link(visits: Visits, ada: TestClient) -> None:
    answer = ada.post(PEOPLE, json=TESS)

    assert answer.status_code == 201
    told = answer.json()
    assert told["username"] == "tess"
    path = told["link"].removeprefix("http://testserver").rpartition("/invitation/")[2]
    page = TestClient(visits.app).get(f"/invitation/{path}")
    assert (page.status_code, "Tess Loft" in page.text) == (200, True)
    (listed,) = [one for one in ada.get(PEOPLE).json() if one["username"] == "tess"]
    assert listed["link_until"] == told["until"]
    assert ("add a person", "ada") in did(visits)
    assert told["link"] != ada.post(f"{PEOPLE}/tess/link").json()["link"]


def test_a_bad_person_is_refused_by_its_fields_and_nobody_is_added(ada: TestClient) -> None:
    wrong: list[dict[str, object]] = [
        {"username": "a b"},
        {"name": " "},
        {"roles": []},
        {"roles": ["king"]},
    ]
    for instead in wrong:
        answer = ada.post(PEOPLE, json=TESS | instead)
        assert answer.status_code == 422
        assert next(iter(instead)) in str(answer.json()["errors"])
    ada.post(PEOPLE, json=TESS)
    assert ada.post(PEOPLE, json=TESS).status_code == 422  # the name is taken

    assert len(ada.get(PEOPLE).json()) == 2


def test_a_closed_account_is_signed_out_and_can_be_opened_again(
    visits: Visits, ada: TestClient
) -> None:
    cruz = visits.of(Role.CREW)

    closed = ada.post(f"{PEOPLE}/cruz/close")

    assert closed.json() == {"username": "cruz", "sessions": 1}
    assert cruz.get("/api/v1/skerry/findings").status_code == 401
    assert [one["closed"] for one in ada.get(PEOPLE).json()] == [False, True]
    assert ada.post(f"{PEOPLE}/cruz/close").status_code == 404
    assert "/invitation/" in ada.post(f"{PEOPLE}/cruz/open-again").json()["link"]
    assert ada.post(f"{PEOPLE}/cruz/open-again").status_code == 404


def test_sessions_are_ended_and_the_account_stays(visits: Visits, ada: TestClient) -> None:
    cruz = visits.of(Role.CREW)

    assert ada.post(f"{PEOPLE}/cruz/sign-out").json() == {"username": "cruz", "sessions": 1}

    assert cruz.get("/api/v1/skerry/findings").status_code == 401
    assert ("end the sessions of a person", "ada") in did(visits)


def test_the_last_administrator_cannot_be_closed(ada: TestClient) -> None:
    assert ada.post(f"{PEOPLE}/ada/close").status_code == 409


def test_nobody_else_and_no_other_agency_gets_in(visits: Visits, ada: TestClient) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    assert dana.get(PEOPLE).status_code == 403
    assert dana.post(PEOPLE, json=TESS).status_code == 403
    assert visits.of_outsider().post(f"{PEOPLE}/dana/close").status_code == 404
    assert ada.post(f"{PEOPLE}/olu/close").status_code == 404


def test_a_token_ends_access_and_never_gives_it(visits: Visits, ada: TestClient) -> None:
    visits.of(Role.CREW)
    leavers = program(visits, given(ada, "Leavers", Scope.END_ACCESS))
    reader = program(visits, given(ada, "Reader", Scope.READ_FLEET, Scope.SEND_READINGS))

    assert "cruz" in str(leavers.get(PEOPLE).json())
    assert reader.get(PEOPLE).status_code == 403
    assert leavers.post(PEOPLE, json=TESS).status_code == 403
    assert leavers.post(f"{PEOPLE}/cruz/link").status_code == 403
    assert leavers.post(f"{PEOPLE}/cruz/close").json()["sessions"] == 1
    assert leavers.post(f"{PEOPLE}/cruz/open-again").status_code == 403
    assert ("close an account", "token leavers") in did(visits)
