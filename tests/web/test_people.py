from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import PASSWORD
from tests.web.visits import Visits

PEOPLE = "/skerry/people"
FIRST_PASSWORD = "a lantern on the north pier"
FEMI = {
    "name": "Femi",
    "username": "femi",
    "password": FIRST_PASSWORD,
    "roles": ["fleet-manager", "technician"],
}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def ada(visits: Visits) -> TestClient:
    return visits.of(Role.ADMINISTRATOR)


def test_a_person_is_added_told_once_and_can_sign_in(visits: Visits, ada: TestClient) -> None:
    answer = ada.post(PEOPLE, data=FEMI)

    assert (answer.status_code, answer.headers["location"]) == (303, PEOPLE)
    assert "Femi was added." in ada.get(PEOPLE).text
    assert "Femi was added." not in ada.get(PEOPLE).text
    assert "fleet manager, technician" in ada.get(PEOPLE).text
    femi = TestClient(visits.app, follow_redirects=False)
    form = {"agency": "skerry", "username": "femi", "password": FIRST_PASSWORD}
    assert femi.post("/sign-in", data=form).status_code == 303


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("username", {"username": "ada"}),
        ("username", {"username": "fe mi"}),
        ("name", {"name": " "}),
        ("password", {"password": "eleven char"}),
        ("roles", {"roles": []}),
        ("roles", {"roles": ["emperor"]}),
    ],
)
def test_a_refused_person_is_told_beside_the_field_and_nothing_is_lost(
    ada: TestClient, column: str, instead: dict[str, object]
) -> None:
    answer = ada.post(PEOPLE, data=FEMI | instead)

    assert answer.status_code == 422
    assert f'id="{column}-wrong"' in answer.text
    if column != "name":
        assert 'value="Femi"' in answer.text
    if column != "roles":
        assert 'value="technician" checked' in answer.text
    assert FIRST_PASSWORD not in answer.text
    assert ada.get(PEOPLE).text.count("<tr>") == 2


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.ADMINISTRATOR}))
def test_nobody_else_sees_or_adds_people(visits: Visits, role: Role) -> None:
    somebody = visits.of(role)

    assert somebody.get(PEOPLE).status_code == 403
    assert somebody.post(PEOPLE, data=FEMI).status_code == 403


def test_people_of_another_agency_are_not_listed(visits: Visits, ada: TestClient) -> None:
    visits.of_outsider()

    assert ">olu<" not in ada.get(PEOPLE).text


def test_what_people_are_called_is_text_and_never_markup(ada: TestClient) -> None:
    ada.post(PEOPLE, data=FEMI | {"name": "<script>alert(1)</script>"})

    assert "<script>alert" not in ada.get(PEOPLE).text
    assert PASSWORD not in ada.get(PEOPLE).text
