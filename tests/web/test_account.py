import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import HOUR, MINUTE, PASSWORD
from tests.web.visits import Visits

ACCOUNT = "/skerry/account"
NEW = "a lantern on the north pier"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def dana(visits: Visits) -> TestClient:
    return visits.of(Role.MEDICAL_DIRECTOR)


def test_the_password_is_changed_and_other_sessions_end(visits: Visits, dana: TestClient) -> None:
    phone = visits.of(Role.MEDICAL_DIRECTOR)

    answer = dana.post(f"{ACCOUNT}/password", data={"old_password": PASSWORD, "password": NEW})

    assert answer.headers["location"] == ACCOUNT
    assert "Your password is changed. 1 other session is ended." in dana.get(ACCOUNT).text
    assert phone.get(ACCOUNT).headers["location"].startswith("/sign-in")


def test_a_wrong_password_is_told_at_its_field_and_never_comes_back(dana: TestClient) -> None:
    answer = dana.post(
        f"{ACCOUNT}/password", data={"old_password": "not mine", "password": "marchstone 2026"}
    )

    assert answer.status_code == 422
    assert 'id="old_password-wrong">this is not your password' in answer.text
    assert "marchstone 2026" not in answer.text


def test_a_password_of_many_is_told_why(dana: TestClient) -> None:
    answer = dana.post(
        f"{ACCOUNT}/password", data={"old_password": PASSWORD, "password": "sunshine sunshine"}
    )

    assert 'id="password-wrong">many people use this one' in answer.text


def test_sessions_are_listed_and_ended_one_by_one(visits: Visits, dana: TestClient) -> None:
    phone = visits.of(Role.MEDICAL_DIRECTOR)
    page = dana.get(ACCOUNT).text
    [other] = re.findall(r'action="(/skerry/account/sessions/\d+/end)"', page)

    assert dana.post(other).headers["location"] == ACCOUNT
    assert "That session is ended." in dana.get(ACCOUNT).text
    assert phone.get(ACCOUNT).status_code == 303
    assert dana.post(other).status_code == 404


def test_every_other_session_is_ended_at_once(visits: Visits, dana: TestClient) -> None:
    phones = [visits.of(Role.MEDICAL_DIRECTOR) for _ in range(2)]

    dana.post(f"{ACCOUNT}/sessions/others/end")

    assert "2 other sessions are ended." in dana.get(ACCOUNT).text
    assert {phone.get(ACCOUNT).status_code for phone in phones} == {303}


def test_sessions_end_when_idle_and_at_the_latest_after_a_day_of_work(
    visits: Visits, dana: TestClient
) -> None:
    for _ in range(13):  # at work all the time: asked for every 55 minutes
        assert dana.get(ACCOUNT).status_code == 200
        visits.wait(55 * MINUTE)
    visits.wait(HOUR)  # 12 h 55 min after the sign-in

    assert dana.get(ACCOUNT).status_code == 303


def test_an_administrator_signs_somebody_out_everywhere(visits: Visits, dana: TestClient) -> None:
    ada = visits.of(Role.ADMINISTRATOR)

    answer = ada.post("/skerry/people/dana/sign-out")

    assert answer.headers["location"] == "/skerry/people"
    assert "dana is signed out: 1 session ended." in ada.get("/skerry/people").text
    assert dana.get(ACCOUNT).status_code == 303
    assert ada.post("/skerry/people/olu/sign-out").status_code == 404
