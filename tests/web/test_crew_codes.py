"""The crew code before everything that is open, and nothing else."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.domain.throttling import FREE_PER_ADDRESS
from app.storage.database import Database
from tests.builders import a_device, a_signed_revision
from tests.web.visits import Visits

CODE = "north 44"
ADDRESSES = ["/skerry/limits?age=7+mo", "/skerry/limits", "/skerry/d/boat-3"]
ENTER = "/skerry/limits/code"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    set_code(found, CODE)
    return found


def set_code(visits: Visits, code: str) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    answer = dana.post("/skerry/choices/crew-code", data={"crew_code": code})
    assert answer.status_code == 303


@pytest.fixture
def phone(visits: Visits) -> TestClient:
    return TestClient(visits.app, follow_redirects=False)


@pytest.mark.parametrize("address", ADDRESSES)
def test_nothing_open_is_shown_without_it(phone: TestClient, address: str) -> None:
    answer = phone.get(address)

    assert answer.status_code == 303
    assert answer.headers["location"].startswith(f"{ENTER}?next=/skerry/")


def test_the_copy_and_programs_are_told_so(phone: TestClient) -> None:
    copy = phone.get("/skerry/limits/copy.json")
    api = phone.get("/api/v1/skerry/limits?age=7+mo")

    assert (copy.status_code, api.status_code) == (401, 401)
    assert "asks for its crew code" in copy.json()["detail"]


def test_typed_once_the_phone_is_let_in_where_it_wanted_to_go(phone: TestClient) -> None:
    wanted = ADDRESSES[0]
    assert "Crew code" in phone.get(ENTER).text

    answer = phone.post(ENTER, data={"code": "NORTH 44", "next": wanted})

    assert (answer.status_code, answer.headers["location"]) == (303, wanted)
    for address in (*ADDRESSES, "/skerry/limits/copy.json"):
        assert phone.get(address).status_code == 200
        assert phone.get(address).status_code == 200  # also from what is kept


def test_another_code_ends_what_phones_knew(visits: Visits, phone: TestClient) -> None:
    phone.post(ENTER, data={"code": CODE})
    assert phone.get(ADDRESSES[0]).status_code == 200

    set_code(visits, "south 55")

    assert phone.get(ADDRESSES[0]).status_code == 303
    assert phone.get("/skerry/limits/copy.json").status_code == 401


def test_taken_back_everybody_is_let_in(visits: Visits, phone: TestClient) -> None:
    visits.of(Role.MEDICAL_DIRECTOR).post("/skerry/choices/crew-code/remove")

    assert phone.get(ADDRESSES[0]).status_code == 200


def test_a_wrong_code_is_told_and_in_the_end_slowed_down(phone: TestClient) -> None:
    for _ in range(FREE_PER_ADDRESS):
        answer = phone.post(ENTER, data={"code": "wrong", "next": ADDRESSES[0]})
        assert answer.status_code == 422
    assert "this is not the crew code" in answer.text
    assert ADDRESSES[0].replace("&", "&amp;") in answer.text

    assert phone.post(ENTER, data={"code": CODE}).status_code == 429


@pytest.mark.parametrize("onward", ["//evil.example", "/elsewhere/limits", "https://evil.example"])
def test_it_never_leads_elsewhere(phone: TestClient, onward: str) -> None:
    answer = phone.post(ENTER, data={"code": CODE, "next": onward})

    assert answer.headers["location"] == "/skerry/limits"


def test_whoever_is_signed_in_there_needs_none(visits: Visits) -> None:
    assert visits.of(Role.CREW).get(ADDRESSES[0]).status_code == 200
    assert visits.of(Role.CREW).get("/api/v1/skerry/limits?age=7+mo").status_code == 200
    assert visits.of_outsider().get(ADDRESSES[0]).status_code == 303


def test_the_pass_is_a_cookie_of_this_agency_that_no_script_reads(phone: TestClient) -> None:
    cookie = phone.post(ENTER, data={"code": CODE}).headers["set-cookie"].lower()

    assert "httponly" in cookie
    assert cookie.startswith("marchstone_crew_skerry=")


def test_a_paper_may_be_held_against_its_fingerprint_without_a_code(phone: TestClient) -> None:
    assert phone.get(f"/skerry/confirm/{'0' * 64}").status_code == 404


def test_the_page_of_choices_tells_whether_one_is_asked_for(visits: Visits) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    assert "A code is asked for before the open look-up" in dana.get("/skerry/choices").text
    dana.post("/skerry/choices/crew-code/remove")
    assert "open to everybody who knows its address" in dana.get("/skerry/choices").text
    assert "Crew code" not in visits.of(Role.CREW).get("/skerry/choices").text


def test_a_code_too_short_is_refused(visits: Visits) -> None:
    answer = visits.of(Role.MEDICAL_DIRECTOR).post(
        "/skerry/choices/crew-code", data={"crew_code": "123"}
    )

    assert answer.status_code == 422
    assert "6 to 40" in answer.text
