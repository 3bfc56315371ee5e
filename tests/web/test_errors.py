from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import HOUR
from tests.web.visits import Visits

FORM = {"name": "Femi <Fleet>", "username": "femi", "password": "not to be shown", "roles": "crew"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def ada(visits: Visits) -> TestClient:
    return visits.of(Role.ADMINISTRATOR)


def broken(visits: Visits, monkeypatch: pytest.MonkeyPatch) -> TestClient:
    """Ada, in a service in which adding people fails in a way that nobody thought of."""
    cookies = visits.of(Role.ADMINISTRATOR).cookies
    monkeypatch.setattr("app.web.people.invite", lambda *_, **__: 1 / 0)
    return TestClient(visits.app, cookies=cookies, raise_server_exceptions=False)


def test_a_page_that_is_not_there_says_so_and_what_to_do(ada: TestClient) -> None:
    answer = ada.get("/nowhere/at/all")

    assert answer.status_code == 404
    assert "There is no such page." in answer.text
    assert "Check the address" in answer.text


def test_even_there_people_stay_signed_in(visits: Visits, ada: TestClient) -> None:
    nobody = TestClient(visits.app)

    assert "Sign out" in ada.get("/nowhere/at/all").text
    assert "Sign out" not in nobody.get("/nowhere/at/all").text


def test_a_look_leads_to_the_sign_in_and_back(visits: Visits) -> None:
    visits.of(Role.ADMINISTRATOR)
    answer = TestClient(visits.app, follow_redirects=False).get("/skerry/people?a=1&b=2")

    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?next=/skerry/people%3Fa%3D1%26b%3D2"


def test_whoever_was_signed_out_while_typing_loses_nothing(visits: Visits) -> None:
    ada = visits.of(Role.ADMINISTRATOR)
    visits.wait(2 * HOUR)

    answer = ada.post("/skerry/people", data=FORM)

    assert answer.status_code == 401
    assert '<input type="hidden" name="name" value="Femi &lt;Fleet&gt;">' in answer.text
    assert '<form method="post" action="/skerry/people">' in answer.text
    assert "not to be shown" not in answer.text


def test_our_failure_is_told_without_its_insides_and_loses_nothing(
    visits: Visits, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = broken(visits, monkeypatch).post("/skerry/people", data=FORM)

    assert answer.status_code == 500
    assert "the fault is ours" in answer.text
    assert "division" not in answer.text
    assert "Femi &lt;Fleet&gt;" in answer.text
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"


def test_what_is_not_allowed_is_shown_but_not_offered_again(visits: Visits) -> None:
    answer = visits.of(Role.CREW).post("/skerry/people", data=FORM)

    assert answer.status_code == 403
    assert "administrator" in answer.text
    assert "Femi &lt;Fleet&gt;" in answer.text
    assert "Send it again" not in answer.text


def test_another_site_cannot_have_its_own_text_offered_again(ada: TestClient) -> None:
    answer = ada.post("/skerry/people", data=FORM, headers={"Sec-Fetch-Site": "cross-site"})

    assert answer.status_code == 403
    assert "Femi" not in answer.text


def test_a_field_that_is_far_too_long_is_refused_by_its_name(ada: TestClient) -> None:
    answer = ada.post("/skerry/people", data=FORM | {"name": "x" * 301})

    assert answer.status_code == 422
    assert "name: String should have at most 300 characters" in answer.text


def test_a_piece_of_a_page_gets_a_fragment_that_goes_where_things_are_told(
    ada: TestClient,
) -> None:
    answer = ada.get("/nowhere/at/all", headers={"HX-Request": "true"})

    assert answer.status_code == 404
    assert answer.headers["hx-retarget"] == "#told"
    assert "<html" not in answer.text
    assert "There is no such page." in answer.text


def test_a_signed_out_piece_of_a_page_is_not_led_away(visits: Visits) -> None:
    visits.of(Role.ADMINISTRATOR)
    nobody = TestClient(visits.app, follow_redirects=False)

    answer = nobody.get("/skerry/people", headers={"HX-Request": "true"})

    assert answer.status_code == 401
    assert 'href="/sign-in" target="_blank"' in answer.text


def test_a_program_gets_problem_details(ada: TestClient) -> None:
    answer = ada.get("/api/v1/nowhere/at/all")

    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json() == {
        "type": "about:blank",
        "title": "Not found",
        "status": 404,
        "detail": "There is no such page.",
    }


def test_a_wrong_method_says_which_are_right(ada: TestClient) -> None:
    answer = ada.post("/help/words")

    assert answer.status_code == 405
    assert "GET" in answer.headers["allow"]
