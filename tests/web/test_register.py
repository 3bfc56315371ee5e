from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.actions.device_changes import change_loan
from app.domain.device_tags import with_check
from app.domain.devices import Loan
from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_clearances import a_serviced_device, override
from tests.builders import HOUR, NOW, a_device, a_person
from tests.web.blind_readings import begin, typed
from tests.web.visits import Visits

LIST = "tag,model,station\nroad-1,dunlin,North\nroad-2,dunlin,South\n"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_serviced_device)
    visits.now = NOW + 5 * HOUR
    return visits


def test_the_register_shows_every_device_with_its_clearance(visits: Visits) -> None:
    page = visits.of(Role.QUALITY_OFFICER).get("/skerry/register").text

    assert "boat-3" in page
    assert "not cleared" in page
    assert "It came back from service" in page
    assert "Add a device" not in page


def test_it_is_narrowed_by_what_is_asked(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)

    assert "boat-3" in femi.get("/skerry/register?clearance=not-cleared&model=dunlin").text
    assert "No device is like this." in femi.get("/skerry/register?clearance=cleared").text
    assert "No device is like this." in femi.get("/skerry/register?station=Nowhere").text


def test_a_long_list_comes_in_pages(visits: Visits, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.web.register.MOST_ROWS", 1)
    visits.seed(lambda tx: a_device(tx, "boat-4"))
    cruz = visits.of(Role.CREW)
    first = cruz.get("/skerry/register?station=North").text

    assert "2 devices; these are 1 to 1" in first
    assert "boat-4" not in first
    assert 'href="?station=North&amp;page=2"' in first
    second = cruz.get("/skerry/register?station=North&page=2").text
    assert "boat-4" in second
    assert 'href="?station=North&amp;page=1"' in second


def test_a_tag_leads_to_its_device(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    assert cruz.get("/skerry/register?tag=+boat-3+").headers["location"] == "/skerry/devices/boat-3"


def test_a_tag_with_a_wrong_check_character_is_told_what_may_be_meant(visits: Visits) -> None:
    tag = visits.seed(lambda tx: a_device(tx, with_check("air-7"))).tag
    cruz = visits.of(Role.CREW)
    wrong = f"air-7.{'A' if tag[-1] != 'A' else 'B'}"

    for address in (
        f"/skerry/register?tag={wrong}",
        f"/skerry/devices/{wrong}",
        f"/skerry/d/{wrong}",
        f"/skerry/devices/{wrong}/read",
        f"/skerry/devices/{wrong}/past",
    ):
        answer = cruz.get(address)
        assert answer.status_code == 404
        assert f"Did you mean {tag}?" in answer.text


def test_the_list_goes_out_as_csv_with_the_same_narrowing(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    answer = femi.get("/skerry/register/list.csv?clearance=not-cleared")

    assert answer.headers["content-type"].startswith("text/csv")
    assert "boat-3,dunlin,North" in answer.text
    assert femi.get("/skerry/register/list.csv?clearance=cleared").text.count("\n") == 1


def test_many_devices_come_in_at_once(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    answer = femi.post("/skerry/register/many", data={"listed": LIST})

    assert answer.headers["location"] == "/skerry/register"
    assert "road-2" in femi.get("/skerry/register?station=South").text


def test_one_wrong_cell_keeps_all_of_them_out_and_what_was_pasted_in(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    listed = LIST + "boat-3,dunlin,North\nroad 4,,North\n"
    answer = femi.post("/skerry/register/many", data={"listed": listed})

    assert answer.status_code == 422
    assert "line 4, tag: a device has this tag already" in answer.text
    assert "line 5, tag: use 1 to 40 letters" in answer.text
    assert "line 5, model: this must not be empty" in answer.text
    assert "road-2,dunlin,South" in answer.text
    assert "road-1" not in femi.get("/skerry/register").text


def test_a_device_is_added_with_everything_that_is_known(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    typed = {"tag": "air-1", "model": "petrel", "station": "North", "vehicle": "Air 1"}
    typed |= {"serial": "S-1", "software": "11", "owner": "Tern Air", "loan_from": "2026-03-01"}
    answer = femi.post("/skerry/fleet/add", data=typed)
    page = femi.get(answer.headers["location"]).text

    assert "North, Air 1" in page
    assert "on loan from Tern Air since 1 Mar 2026" in page
    assert "It came on loan" in page


def test_a_wrong_field_keeps_what_was_typed(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    typed = {"tag": "air-1", "model": "petrel", "station": "North", "owner": "Tern Air"}
    answer = femi.post("/skerry/fleet/add", data=typed)

    assert answer.status_code == 422
    assert "write the day on which it came" in answer.text
    assert 'value="Tern Air"' in answer.text


def test_the_next_tags_are_proposed_with_their_check_character(visits: Visits) -> None:
    page = visits.of(Role.FLEET_MANAGER).get("/skerry/fleet/add").text

    assert with_check("boat-1") in page


def test_what_happened_is_kept_in_the_history(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)
    moved = {"station": "South", "vehicle": "Boat 3", "why": "swapped"}
    answer = tess.post("/skerry/devices/boat-3/change/move", data=moved)
    page = tess.get(answer.headers["location"]).text

    assert "station: North → South" in page
    assert "swapped" in page
    assert "back from service" in page
    assert "work by Tess" in page


def test_a_form_that_lacks_something_shows_what_was_typed(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)
    answer = tess.post("/skerry/devices/boat-3/change/move", data={"vehicle": "Boat 9"})

    assert answer.status_code == 422
    assert 'value="Boat 9"' in answer.text
    assert "this must not be empty" in answer.text


def test_who_did_the_work_is_chosen_by_name(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)
    tess.post("/skerry/devices/boat-3/change/away", data={"why": "battery"})

    page = tess.get("/skerry/devices/boat-3/change").text
    assert '<option value="femi">Femi</option>' in page
    assert "It moved" not in page
    done = tess.post(
        "/skerry/devices/boat-3/change/back", data={"why": "new battery", "worker": "nobody"}
    )
    assert done.status_code == 422


@pytest.mark.parametrize("form", ["loan", "retire", "correct", "return"])
def test_a_technician_does_not_keep_the_register(visits: Visits, form: str) -> None:
    tess = visits.of(Role.TECHNICIAN)

    assert tess.post(f"/skerry/devices/boat-3/change/{form}").status_code == 403
    assert f'change/{form}"' not in tess.get("/skerry/devices/boat-3/change").text


def test_there_is_no_other_change(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)

    assert femi.post("/skerry/devices/boat-3/change/paint").status_code == 404


def test_a_retired_device_leaves_the_lists_and_is_still_found(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    femi.post("/skerry/devices/boat-3/change/retire", data={"why": "broken"})

    assert "boat-3" not in femi.get("/skerry/register").text
    assert "boat-3" not in femi.get("/skerry/fleet").text
    page = femi.get("/skerry/devices/boat-3").text
    assert "It is retired." in page
    assert "Read it blind" not in page
    assert "boat-3" in femi.get("/skerry/register?status=retired").text


def test_the_directors_word_shows_wherever_clearance_does(visits: Visits) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    until = (visits.now.date() + timedelta(days=7)).isoformat()
    typed = {"to": "by-hand", "until": until, "reason": "The only one on the island"}
    answer = dana.post("/skerry/devices/boat-3/clearance", data=typed)

    assert answer.status_code == 303
    for address in ("devices/boat-3", "devices/boat-3/clearance", "register", "fleet", "d/boat-3"):
        page = dana.get(f"/skerry/{address}").text
        assert "The director, Dana, until 9 Mar 2026" in page, address
    dana.post("/skerry/devices/boat-3/clearance/end")
    assert "The director, Dana" not in dana.get("/skerry/devices/boat-3").text


@pytest.mark.parametrize(
    ("instead", "told"),
    [
        ({"to": ""}, "choose one"),
        ({"to": "not-cleared"}, "choose one"),
        ({"until": ""}, "write the last day"),
        ({"until": "soon"}, "write a day as 2026-03-01"),
        ({"reason": ""}, "this must not be empty"),
    ],
)
def test_an_override_that_lacks_something_stores_nothing(
    visits: Visits, instead: dict[str, str], told: str
) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    typed = {"to": "by-hand", "until": "2026-03-05", "reason": "asked by the base"}
    answer = dana.post("/skerry/devices/boat-3/clearance", data=typed | instead)

    assert answer.status_code == 422
    assert told in answer.text
    assert "The director, Dana" not in dana.get("/skerry/devices/boat-3").text


def test_others_read_why_and_see_no_form(visits: Visits) -> None:
    visits.seed(override)
    page = visits.of(Role.CREW).get("/skerry/devices/boat-3/clearance").text

    assert "The only one on the island" in page
    assert "<textarea" not in page
    assert visits.of(Role.CREW).post("/skerry/devices/boat-3/clearance").status_code == 403


def test_the_label_tells_that_the_director_decided_and_never_why(visits: Visits) -> None:
    """Whoever scans it may be about to read the device blind."""
    visits.seed(override)

    for client in (TestClient(visits.app), visits.of(Role.FLEET_MANAGER)):
        page = client.get("/skerry/d/boat-3").text
        assert "The director, Dana, until 9 Mar 2026." in page
        assert "The only one on the island" not in page
        assert "The only one on the island" not in client.get("/skerry/d/boat-3/values").text


def test_lists_and_programs_are_told_by_whom_and_not_why(visits: Visits) -> None:
    visits.seed(override)
    femi = visits.of(Role.FLEET_MANAGER)

    for address in ("/skerry/register", "/skerry/fleet", "/api/v1/skerry/devices/boat-3"):
        page = femi.get(address).text
        assert "The only one on the island" not in page
    assert "The director, Dana, until 9 Mar 2026" in femi.get("/skerry/register").text
    told = femi.get("/api/v1/skerry/devices/boat-3").json()["clearance"]["overridden"]
    assert told == "The director, Dana, until 9 Mar 2026"


def test_why_the_director_decided_is_told_to_nobody_during_a_blind_reading(
    visits: Visits,
) -> None:
    visits.seed(override)
    femi, dana = visits.of(Role.FLEET_MANAGER), visits.of(Role.MEDICAL_DIRECTOR)
    pages = ("/skerry/devices/boat-3", "/skerry/devices/boat-3/clearance")
    for address in pages:
        assert "The only one on the island" in femi.get(address).text

    look = begin(femi, trigger="after service")

    for address in pages:
        for client in (femi, dana):
            page = client.get(address).text
            assert "The only one on the island" not in page
            assert "The director, Dana, until 9 Mar 2026" in page
    assert "told once that is over" in dana.get(pages[1]).text

    assert femi.post(look, data=typed(femi, look)).status_code == 303
    assert "The only one on the island" in femi.get(pages[1]).text


def test_the_label_of_a_device_says_what_to_do_to_anybody(visits: Visits) -> None:
    visits.of(Role.CREW).cookies.clear()
    page = visits.of_outsider().get("/skerry/d/boat-3").text

    assert "Not cleared" in page
    assert "If none is, use this one" in page


def test_another_software_than_the_register_tells_is_shown(visits: Visits) -> None:
    page = visits.of(Role.FLEET_MANAGER).get("/skerry/devices/boat-3").text

    # The register: 3.2, as it came back; the readings before it: 3.2 as well.
    assert "its latest reading tells" not in page
    femi = visits.of(Role.FLEET_MANAGER)
    femi.post("/skerry/devices/boat-3/change/software", data={"software": "4.0"})
    assert "its latest reading tells 3.2" in femi.get("/skerry/devices/boat-3").text


def test_a_loan_that_ends_shows_its_day(visits: Visits) -> None:
    def borrow(tx: Session) -> None:
        loan = Loan("Tern Air", date(2026, 3, 1), date(2026, 4, 1))
        femi = a_person(tx, Role.FLEET_MANAGER)
        change_loan(tx, tag="boat-3", loan=loan, why="", by=femi, now=NOW)

    visits.seed(borrow)

    page = visits.of(Role.CREW).get("/skerry/register").text
    assert "on loan from Tern Air until 1 Apr 2026" in page


def test_the_manual_tells_of_the_register(visits: Visits) -> None:
    page = visits.of(Role.CREW).get("/help/register").text

    assert "ISO/IEC 7064" in page
    assert with_check("boat-3") in page
