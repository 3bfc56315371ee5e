"""A file of another system: mapped once, remembered, changed and forgotten."""

import html
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import PRESET, a_device, a_signed_revision
from tests.storage.ledgers import deeds
from tests.web.visits import Visits

HERE = "/skerry/fleet/readings"
COLUMNS, MAPS = f"{HERE}/columns", "/skerry/fleet/maps"
FOREIGN = (
    f"Unit,Taken,Profile,Item,Value\nboat-3,2026-03-02 09:00,{PRESET},HR hi,200\n"
    f"boat-3,2026-03-02 09:00,{PRESET},HR lo,---\n"
).encode()
FORM = {
    "source": "Bench log",
    "column-device": "Unit",
    "column-read_at": "Taken",
    "column-preset": "Profile",
    "column-alarm": "Item",
    "column-reading": "Value",
    "always-state_read": "power-on",
    "zone": "Europe/London",
}
WORDS = {
    "theirs-alarm-0": "HR hi",
    "word-alarm-0": "heart-rate-high",
    "theirs-alarm-1": "HR lo",
    "word-alarm-1": "heart-rate-low",
    "theirs-reading-0": "---",
    "word-reading-0": "off",
}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    return found


@pytest.fixture
def femi(visits: Visits) -> TestClient:
    return visits.of(Role.FLEET_MANAGER)


def sent(client: TestClient, content: bytes = FOREIGN) -> Response:
    return client.post(HERE, files={"file": ("log.csv", content, "text/csv")})


def test_from_an_unknown_file_to_its_readings(visits: Visits, femi: TestClient) -> None:
    assert sent(femi).headers["location"] == COLUMNS
    page = femi.get(COLUMNS).text
    assert '<option value="Taken">' in page

    assert femi.post(COLUMNS, data=FORM).headers["location"] == COLUMNS
    assert "HR hi" in femi.get(COLUMNS).text
    assert femi.post(COLUMNS, data=FORM | WORDS).headers["location"] == f"{HERE}/look"

    page = html.unescape(femi.get(f"{HERE}/look").text)
    assert "Bench log" in page
    assert "Heart rate can rise from 170 to 200 /min unannounced." in page
    assert "<td>heart-rate-low</td><td>off</td>" in page
    with visits.database.reading() as tx:
        assert deeds(tx)[-2:] == ["map columns", "map columns"]


def test_the_next_file_alike_needs_no_telling(femi: TestClient) -> None:
    sent(femi)
    femi.post(COLUMNS, data=FORM | WORDS)

    answer = sent(femi, FOREIGN.replace(b"200", b"190"))

    assert answer.status_code == 200
    assert "from 170 to 190" in answer.text


@pytest.mark.parametrize(
    ("instead", "why"),
    [
        ({"source": ""}, "name the system"),
        ({"column-alarm": ""}, "choose a column, or what stands for it in every row"),
        ({"column-alarm": "Mood"}, "the file has no such column"),
        ({"column-state_read": "Item"}, "not both"),
        ({"column-unit": "Unit"}, "the same column is chosen twice"),
        ({"zone": "Skerry/Harbour"}, "there is no such time zone"),
        ({"alarm-4": "heart-rate-high"}, "an alarm has its own column"),
    ],
)
def test_what_is_wrong_with_a_map_is_told(
    femi: TestClient, instead: dict[str, str], why: str
) -> None:
    sent(femi)

    answer = femi.post(COLUMNS, data=FORM | instead)

    assert answer.status_code == 422
    assert why in html.unescape(answer.text)


def test_a_map_is_changed_and_forgotten_without_a_file(femi: TestClient) -> None:
    sent(femi)
    femi.post(COLUMNS, data=FORM | WORDS)
    assert "Bench log" in femi.get(MAPS).text
    assert "hr lo" in femi.get(f"{MAPS}/edit?source=Bench%20log").text

    again = FORM | WORDS | {"was": "Bench log", "source": "Harbour log"}
    assert femi.post(f"{MAPS}/edit", data=again).headers["location"] == MAPS
    page = femi.get(MAPS).text
    assert "Harbour log" in page
    assert "Bench log" not in page

    femi.post(f"{MAPS}/forget", data={"source": "Harbour log"})
    assert sent(femi).headers["location"] == COLUMNS


def test_another_agency_has_its_own(visits: Visits, femi: TestClient) -> None:
    sent(femi)
    femi.post(COLUMNS, data=FORM | WORDS)
    olu = visits.of_outsider()

    assert "Bench log" not in olu.get(MAPS.replace("skerry", "elsewhere")).text
    assert olu.get(MAPS).status_code == 404
    answer = olu.post(f"{MAPS}/forget".replace("skerry", "elsewhere"), data={"source": "Bench log"})
    assert answer.status_code == 404
    assert "Bench log" in femi.get(MAPS).text


def test_hostile_names_are_only_text(femi: TestClient) -> None:
    content = FOREIGN.replace(b"Unit", b"<img src=x>").replace(b"HR hi", b'"><script>')
    sent(femi, content)

    page = femi.get(COLUMNS).text
    assert "<img" not in page
    femi.post(COLUMNS, data=FORM | {"column-device": "<img src=x>"})
    assert "<script>alert" not in femi.get(COLUMNS).text
    assert '"><script>' not in femi.get(COLUMNS).text


def test_the_refused_rows_come_as_a_file_that_no_spreadsheet_runs(femi: TestClient) -> None:
    rows = FOREIGN + f"=1+1,2026-03-02 09:00,{PRESET},HR hi,200\n".encode()
    sent(femi, rows)
    femi.post(COLUMNS, data=FORM | WORDS)

    answer = femi.get(f"{HERE}/refused.csv")

    assert answer.headers["content-type"].startswith("text/csv")
    header, fault = answer.text.splitlines()
    assert header == "line,column,reason,value"
    assert fault.startswith("4,Unit,there is no such device")
    assert fault.endswith(",'=1+1")


def test_without_a_file_at_hand_there_is_nothing_to_map(femi: TestClient) -> None:
    assert femi.get(COLUMNS).status_code == 409
    assert femi.post(COLUMNS, data=FORM).status_code == 409


@pytest.mark.parametrize("role", [Role.CREW, Role.MEDICAL_DIRECTOR])
@pytest.mark.parametrize("path", [COLUMNS, MAPS, f"{MAPS}/edit", f"{HERE}/look"])
def test_who_takes_no_files_in_maps_none(visits: Visits, role: Role, path: str) -> None:
    assert visits.of(role).get(path).status_code == 403
