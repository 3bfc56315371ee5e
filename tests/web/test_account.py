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

    assert dana.post(other, data={"session_password": PASSWORD}).headers["location"] == ACCOUNT
    assert "That session is ended." in dana.get(ACCOUNT).text
    assert phone.get(ACCOUNT).status_code == 303
    assert dana.post(other, data={"session_password": PASSWORD}).status_code == 404


def test_every_other_session_is_ended_at_once(visits: Visits, dana: TestClient) -> None:
    phones = [visits.of(Role.MEDICAL_DIRECTOR) for _ in range(2)]

    refused = dana.post(f"{ACCOUNT}/sessions/others/end", data={"session_password": "not mine"})
    assert refused.status_code == 422
    assert "No session was ended." in refused.text
    assert {phone.get(ACCOUNT).status_code for phone in phones} == {200}

    dana.post(f"{ACCOUNT}/sessions/others/end", data={"session_password": PASSWORD})

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


def test_one_closes_one_s_own_account_by_the_password(visits: Visits, dana: TestClient) -> None:
    visits.of(Role.ADMINISTRATOR)
    kept = dana.post(f"{ACCOUNT}/close", data={"closing_password": "not mine"})
    assert kept.status_code == 422
    assert "Your account is not closed." in kept.text

    answer = dana.post(f"{ACCOUNT}/close", data={"closing_password": PASSWORD})

    assert answer.headers["location"] == "/sign-in?agency=skerry"
    assert dana.get(ACCOUNT).status_code == 303


def test_an_administrator_closes_an_account_and_opens_it_again(
    visits: Visits, dana: TestClient
) -> None:
    ada = visits.of(Role.ADMINISTRATOR)

    ada.post("/skerry/people/dana/close")

    assert dana.get(ACCOUNT).status_code == 303
    listed = ada.get("/skerry/people").text
    assert "The account dana is closed: 1 session ended." in listed
    assert "Closed accounts" in listed
    opened = ada.post("/skerry/people/dana/open-again").text
    assert "/invitation/" in opened
    assert "Closed accounts" not in opened


def test_the_last_administrator_cannot_close_the_account(visits: Visits) -> None:
    ada = visits.of(Role.ADMINISTRATOR)

    answer = ada.post(f"{ACCOUNT}/close", data={"closing_password": PASSWORD})

    assert answer.status_code == 409
    assert "Nobody else could sign in as administrator." in answer.text
    assert ada.get(ACCOUNT).status_code == 200
