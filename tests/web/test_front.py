from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.actions.people import SETUP_LINK_LASTS, make_setup_link
from app.domain.people import Role
from app.lookups.agencies import people_of
from app.storage.database import Database
from app.web.sessions import COOKIE
from tests.builders import NOW, PASSWORD, a_person
from tests.web.visits import Visits

SET_UP = {
    "agency_key": "skerry",
    "agency_name": "Skerry Isles Ambulance",
    "time_zone": "Atlantic/Faroe",
    "username": "ada",
    "name": "Ada",
    "password": PASSWORD,
}
CRUZ = {"agency": "skerry", "username": "cruz", "password": PASSWORD}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def nobody(visits: Visits) -> TestClient:
    return TestClient(visits.app, follow_redirects=False)


def link(visits: Visits) -> str:
    return "/setup/" + visits.seed(lambda tx: make_setup_link(tx, now=NOW))


def test_the_front_page_says_what_this_is_and_what_it_is_not(nobody: TestClient) -> None:
    text = nobody.get("/").text

    assert "alarm limits" in text
    assert "no advice for a patient" in text
    assert 'href="/sign-in"' in text


def test_whoever_is_signed_in_is_led_home(visits: Visits) -> None:
    assert visits.of(Role.CREW).get("/").headers["location"] == "/skerry/"


@pytest.mark.parametrize(
    ("wanted", "led_to"),
    [
        ("", "/skerry/"),
        ("/", "/skerry/"),
        ("/skerry/limits?age=7+mo", "/skerry/limits?age=7+mo"),
        ("//elsewhere.example/skerry/", "/skerry/"),
        ("/elsewhere/people", "/skerry/"),
    ],
)
def test_signing_in_leads_to_where_one_wanted_to_go(
    visits: Visits, nobody: TestClient, wanted: str, led_to: str
) -> None:
    visits.seed(lambda tx: a_person(tx, Role.CREW))

    answer = nobody.post("/sign-in", data={**CRUZ, "next": wanted})

    assert (answer.status_code, answer.headers["location"]) == (303, led_to)
    assert nobody.get("/skerry/").status_code == 200


def test_the_agency_of_the_wanted_page_is_filled_in(nobody: TestClient) -> None:
    assert 'value="skerry"' in nobody.get("/sign-in?next=/skerry/people").text


def test_a_failed_sign_in_keeps_what_was_typed_but_the_password(
    visits: Visits, nobody: TestClient
) -> None:
    visits.seed(lambda tx: a_person(tx, Role.CREW))

    answer = nobody.post("/sign-in", data=CRUZ | {"password": "not the password"})

    assert answer.status_code == 401
    assert 'value="cruz"' in answer.text
    assert "not the password" not in answer.text
    assert COOKIE not in answer.headers.get("set-cookie", "")


def test_guessing_is_slowed(visits: Visits, nobody: TestClient) -> None:
    visits.seed(lambda tx: a_person(tx, Role.CREW))
    answers = [
        nobody.post("/sign-in", data=CRUZ | {"password": f"guess {number}"}).status_code
        for number in range(6)
    ]

    assert answers == [401] * 5 + [429]
    assert nobody.post("/sign-in", data=CRUZ).status_code == 429


def test_signing_out_ends_the_session_itself_not_just_the_cookie(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    stolen = dict(cruz.cookies)

    cruz.post("/sign-out")

    thief = TestClient(visits.app, cookies=stolen, follow_redirects=False)
    assert thief.get("/skerry/").status_code == 303


def test_the_link_makes_an_agency_and_leads_to_the_sign_in(
    visits: Visits, nobody: TestClient
) -> None:
    address = link(visits)

    assert nobody.get(address).status_code == 200
    answer = nobody.post(address, data=SET_UP)

    assert answer.headers["location"] == "/sign-in?agency=skerry"
    assert "Agency and account are made." in nobody.get("/sign-in").text
    ada = {"agency": "skerry", "username": "ada", "password": PASSWORD}
    assert nobody.post("/sign-in", data=ada).headers["location"] == "/skerry/"


def test_a_used_link_opens_nothing(visits: Visits, nobody: TestClient) -> None:
    address = link(visits)
    nobody.post(address, data=SET_UP)

    assert nobody.get(address).status_code == 403
    assert nobody.post(address, data=SET_UP | {"agency_key": "other"}).status_code == 403


def test_an_old_link_opens_nothing(visits: Visits, nobody: TestClient) -> None:
    address = link(visits)
    visits.now = NOW + SETUP_LINK_LASTS

    assert nobody.get(address).status_code == 403


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("agency_key", "Skerry Isles"),
        ("agency_key", "help"),
        ("agency_name", ""),
        ("time_zone", "Skerry/Isles"),
        ("username", "ada lovelace"),
        ("name", ""),
        ("password", "too short"),
    ],
)
def test_a_refused_set_up_keeps_the_rest_and_the_link(
    visits: Visits, nobody: TestClient, field: str, value: str
) -> None:
    address = link(visits)

    answer = nobody.post(address, data=SET_UP | {field: value})

    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text
    assert f'value="{PASSWORD}"' not in answer.text
    if field != "agency_name":
        assert 'value="Skerry Isles Ambulance"' in answer.text
    assert nobody.post(address, data=SET_UP).status_code == 303


@pytest.mark.parametrize(
    ("chosen", "kept"), [("night", "night"), ("day", "day"), ("auto", "auto"), ("pink", "auto")]
)
def test_the_light_is_chosen_and_kept(nobody: TestClient, chosen: str, kept: str) -> None:
    answer = nobody.post("/theme", data={"theme": chosen, "next": "/help/words?a=1"})

    assert answer.headers["location"] == "/help/words?a=1"
    assert f'data-theme="{kept}"' in nobody.get("/").text


@pytest.mark.parametrize("role", Role)
def test_home_shows_only_where_this_role_may_go(visits: Visits, role: Role) -> None:
    somebody = visits.of(role)
    paths = {line.split('"')[0] for line in somebody.get("/skerry/").text.split('href="')[1:]}

    answers = {path: somebody.get(path).status_code for path in paths if path.startswith("/")}

    assert set(answers.values()) == {200}
    assert ("/skerry/people" in paths) == (role is Role.ADMINISTRATOR)


def test_one_agency_can_have_only_its_own_first_administrator(
    visits: Visits, nobody: TestClient
) -> None:
    address = link(visits)
    nobody.post(address, data=SET_UP)

    with visits.database.reading() as tx:
        assert [person.username for person in people_of(tx, agency_id=1)] == ["ada"]
