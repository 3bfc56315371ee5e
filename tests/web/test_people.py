import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.invitations import LINK_LASTS
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import NOW, PASSWORD
from tests.web.visits import Visits

PEOPLE = "/skerry/people"
THEIR_OWN = "a lantern on the north pier"
FEMI = {"name": "Femi", "username": "femi", "roles": ["fleet-manager", "technician"]}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def ada(visits: Visits) -> TestClient:
    return visits.of(Role.ADMINISTRATOR)


def link_in(page: str) -> str:
    found = re.search(r"http://127.0.0.1:8350(/invitation/[\w-]{43})<", page)
    assert found is not None
    return found[1]


def test_whoever_is_invited_sets_their_own_password_and_signs_in(
    visits: Visits, ada: TestClient
) -> None:
    answer = ada.post(PEOPLE, data=FEMI)
    link = link_in(answer.text)
    femi = TestClient(visits.app, follow_redirects=False)
    form = {"agency": "skerry", "username": "femi", "password": THEIR_OWN}

    assert femi.post("/sign-in", data=form).status_code == 401
    assert "<strong>Femi</strong>" in femi.get(link).text
    done = femi.post(link, data={"password": THEIR_OWN})

    assert (done.status_code, done.headers["location"]) == (303, "/sign-in?agency=skerry")
    assert femi.post("/sign-in", data=form).status_code == 303
    assert femi.get("/skerry/fleet").status_code == 200


def test_a_link_is_shown_once(ada: TestClient) -> None:
    link = link_in(ada.post(PEOPLE, data=FEMI).text)

    listed = ada.get(PEOPLE).text

    assert link not in listed
    assert "fleet manager, technician" in listed
    assert "link until" in listed


def test_a_link_works_once_and_then_says_what_to_do(visits: Visits, ada: TestClient) -> None:
    link = link_in(ada.post(PEOPLE, data=FEMI).text)
    femi = TestClient(visits.app, follow_redirects=False)
    femi.post(link, data={"password": THEIR_OWN})

    for answer in (femi.get(link), femi.post(link, data={"password": THEIR_OWN + " again"})):
        assert answer.status_code == 403
        assert "Ask an administrator for a new one." in answer.text
    assert "link until" not in ada.get(PEOPLE).text


def test_a_link_that_ran_out_is_told_and_a_new_one_is_made(visits: Visits, ada: TestClient) -> None:
    old = link_in(ada.post(PEOPLE, data=FEMI).text)
    visits.now = NOW + LINK_LASTS

    assert TestClient(visits.app).get(old).status_code == 403
    assert "the link ran out" in ada.get(PEOPLE).text
    new = link_in(ada.post(f"{PEOPLE}/femi/link").text)
    assert TestClient(visits.app).get(new).status_code == 200


def test_a_refused_password_leaves_the_link_as_it_was(visits: Visits, ada: TestClient) -> None:
    link = link_in(ada.post(PEOPLE, data=FEMI).text)
    femi = TestClient(visits.app, follow_redirects=False)

    refused = femi.post(link, data={"password": "eleven char"})

    assert refused.status_code == 422
    assert 'id="password-wrong"' in refused.text
    assert "eleven char" not in refused.text
    assert femi.post(link, data={"password": THEIR_OWN}).status_code == 303


def test_a_link_for_nobody_is_not_made(ada: TestClient) -> None:
    assert ada.post(f"{PEOPLE}/nobody/link").status_code == 404


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("username", {"username": "ada"}),
        ("username", {"username": "fe mi"}),
        ("name", {"name": " "}),
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
