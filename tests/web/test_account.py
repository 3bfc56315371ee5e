import re
from hashlib import sha1
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.actions.invitations import make_link
from app.actions.people import make_setup_link
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import HOUR, MINUTE, NOW, PASSWORD, a_person
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


def a_list_of_leaks(visits: Visits, folder: Path) -> Path:
    """Holds `NEW` alone; from now on the service looks into it."""
    leaks = folder / "leaks.txt"
    leaks.write_text(f"{sha1(NEW.encode(), usedforsecurity=False).hexdigest().upper()}:3\n")
    settings = visits.app.state.settings
    visits.app.state.settings = settings.model_copy(update={"leaked_passwords": leaks})
    return leaks


def test_a_leaked_password_is_told_at_its_field(
    visits: Visits, dana: TestClient, tmp_path: Path
) -> None:
    a_list_of_leaks(visits, tmp_path)

    leaked = dana.post(f"{ACCOUNT}/password", data={"old_password": PASSWORD, "password": NEW})
    other = dana.post(f"{ACCOUNT}/password", data={"old_password": PASSWORD, "password": f"{NEW}."})

    assert leaked.status_code == 422
    assert 'id="password-wrong">it has leaked somewhere' in leaked.text
    assert other.headers["location"] == ACCOUNT


def test_a_list_of_leaks_that_is_gone_is_told_and_nothing_is_changed(
    visits: Visits, dana: TestClient, tmp_path: Path
) -> None:
    a_list_of_leaks(visits, tmp_path).unlink()

    answer = dana.post(f"{ACCOUNT}/password", data={"old_password": PASSWORD, "password": NEW})

    assert answer.status_code == 409
    assert "The list of leaked passwords cannot be read" in answer.text
    assert NEW not in answer.text
    assert visits.of(Role.MEDICAL_DIRECTOR).get(ACCOUNT).status_code == 200


def test_a_leaked_password_is_not_set_by_a_link_nor_at_the_first_start(
    visits: Visits, tmp_path: Path
) -> None:
    nobody = TestClient(visits.app, follow_redirects=False)
    setup = visits.seed(lambda tx: make_setup_link(tx, now=NOW))
    a_list_of_leaks(visits, tmp_path)
    first = nobody.post(
        f"/setup/{setup}",
        data={
            "agency_key": "outer",
            "agency_name": "Outer",
            "time_zone": "UTC",
            "username": "ada",
            "name": "Ada",
            "password": NEW,
        },
    )
    ada = visits.seed(lambda tx: a_person(tx, Role.ADMINISTRATOR))
    token = visits.seed(lambda tx: make_link(tx, username=ada.username, by=ada, now=NOW))

    linked = nobody.post(f"/invitation/{token}", data={"password": NEW})

    for answer in (first, linked):
        assert answer.status_code == 422
        assert "it has leaked somewhere" in answer.text


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
