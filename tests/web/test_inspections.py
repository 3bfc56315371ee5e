import hashlib
import io
import json
import zipfile
from decimal import Decimal
from pathlib import Path

import openpyxl  # type: ignore[import-untyped]
import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.actions.report_files import Taken, take_file
from app.domain.device_reports import CouldNotRead, FoundOff, FoundOn, NotRead
from app.domain.errors import Refused
from app.domain.finding_filters import FindingFilter
from app.domain.ledger import GENESIS
from app.domain.people import Role
from app.domain.settings_of_alarms import Priority
from app.exchange.reports_csv import read_rows
from app.storage.database import Database
from app.storage.finding_lists import findings_of
from tests.actions.test_finding_words import accept
from tests.actions.test_findings import STRAYED
from tests.builders import HOUR, a_device, a_person, a_report, a_signed_revision, an_agency
from tests.printed import text
from tests.storage.ledgers import bodies
from tests.web.blind_readings import read
from tests.web.visits import Visits

PAGE = "/skerry/inspection"
READ = STRAYED | {
    "spo2-low": FoundOn(Decimal(88), "%", Priority.HIGH, Decimal("2.5"), latching=True),
    "respiratory-rate-low": CouldNotRead("glare, and no time"),
    "temperature-high": FoundOff(),
}
PERIOD = {"since": "2026-01-01", "until": "2026-12-31"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)

    def seed(tx: Session) -> None:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx, READ, software="=cmd()")

    visits.seed(seed)
    return visits


def made(client: TestClient) -> zipfile.ZipFile:
    answer = client.post(PAGE, data=PERIOD)
    assert answer.status_code == 200
    return zipfile.ZipFile(io.BytesIO(answer.content))


def test_the_manifest_holds_for_every_file(visits: Visits) -> None:
    found = made(visits.of(Role.QUALITY_OFFICER))

    hashes = json.loads(found.read("manifest.json"))["sha256"]
    assert set(hashes) == set(found.namelist()) - {"manifest.json"}
    for name, digest in hashes.items():
        assert hashlib.sha256(found.read(name)).hexdigest() == digest


def test_the_ledger_in_it_leads_to_the_head_on_the_report(visits: Visits) -> None:
    found = made(visits.of(Role.QUALITY_OFFICER))

    last = GENESIS
    for line in found.read("ledger.ndjson").decode().splitlines():
        entry = json.loads(line)
        assert entry["prev"] == last
        last = hashlib.sha256((last + "\n" + entry["body"]).encode()).hexdigest()
        assert entry["hash"] == last
    assert last in text(found.read("report.pdf")).replace(" ", "")


def test_making_it_is_the_next_entry_and_names_the_manifest(visits: Visits) -> None:
    found = made(visits.of(Role.QUALITY_OFFICER))

    with visits.database.reading() as tx:
        last = bodies(tx)[-1]
    assert last["did"] == "make an inspection file"
    manifest = hashlib.sha256(found.read("manifest.json")).hexdigest()
    assert last["about"]["manifest"] == manifest


def test_a_signed_policy_lies_in_it_as_signed(visits: Visits) -> None:
    found = made(visits.of(Role.QUALITY_OFFICER))

    fingerprint = hashlib.sha256(found.read("profiles/revision-1.json")).hexdigest()
    assert fingerprint in text(found.read("papers/revision-1.pdf")).replace(" ", "")


def test_the_readings_can_be_taken_in_again(visits: Visits) -> None:
    found = made(visits.of(Role.QUALITY_OFFICER))

    rows, faults = read_rows(io.BytesIO(found.read("readings.csv")), visits.now)
    read = {row.alarm: row.reading for row in rows}
    assert not faults.told
    assert read == {alarm: one for alarm, one in READ.items() if not isinstance(one, NotRead)}


def test_taken_in_again_where_they_came_from_they_are_known_already(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    visits.now += HOUR
    assert read(femi).status_code == 303  # one of a form beside the one of a program
    visits.now += HOUR
    found = made(femi).read("readings.csv")

    with visits.database.writing() as tx:
        keeper = a_person(tx, Role.FLEET_MANAGER)
        again = take_file(tx, content=io.BytesIO(found), by=keeper, now=visits.now)
    assert again == Taken(new=0, known=2, readings=0, refused=0)

    changed = found.replace(b",heart-rate-high,200,", b",heart-rate-high,170,")
    assert changed != found
    with pytest.raises(Refused, match="another report"), visits.database.writing() as tx:
        take_file(tx, content=io.BytesIO(changed), by=keeper, now=visits.now)


def test_the_ledger_tells_nothing_of_a_waiting_look(visits: Visits) -> None:
    visits.now += HOUR
    femi = visits.of(Role.FLEET_MANAGER)
    strayed = read(visits.of(Role.TECHNICIAN), respiratory_rate_high="55")
    assert strayed.headers["location"].startswith("/skerry/readings/")

    ledger = made(femi).read("ledger.ndjson").decode().splitlines()

    assert "read a device" in ledger[-1]
    assert "respiratory-rate-high" not in ledger[-1]


def test_a_look_that_waits_for_another_is_left_out(visits: Visits) -> None:
    visits.now += HOUR
    femi = visits.of(Role.FLEET_MANAGER)
    strayed = read(visits.of(Role.TECHNICIAN), heart_rate_high="210")
    assert strayed.headers["location"].startswith("/skerry/readings/")

    found = made(femi)
    waiting = b"210"
    assert waiting not in found.read("readings.csv")
    book = openpyxl.load_workbook(io.BytesIO(found.read("tables.xlsx")))
    assert {row[0].value for row in book["Readings"].iter_rows()} == {"device", "boat-3"}
    assert "210" not in {row[5].value for row in book["Readings"].iter_rows()}


def test_what_the_director_accepts_is_told_as_accepted(visits: Visits) -> None:
    def seed(tx: Session) -> None:
        agency = an_agency(tx).id
        accept(tx, findings_of(tx, agency, FindingFilter(), now=visits.now)[0])

    visits.seed(seed)

    report = " ".join(text(made(visits.of(Role.QUALITY_OFFICER)).read("report.pdf")).split())

    assert "open, accepted until 2026-03-04" in report


def test_no_cell_of_the_tables_is_a_formula(visits: Visits) -> None:
    found = made(visits.of(Role.QUALITY_OFFICER))

    book = openpyxl.load_workbook(io.BytesIO(found.read("tables.xlsx")))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert "=cmd()" in {cell.value for cell in cells}
    assert {"Devices", "Readings", "Findings", "Signatures"} <= set(book.sheetnames)


def test_another_agency_finds_nothing_of_it(visits: Visits) -> None:
    outsider = visits.of_outsider()

    answer = outsider.post("/elsewhere/inspection", data=PERIOD)

    found = zipfile.ZipFile(io.BytesIO(answer.content))
    assert "boat-3" not in found.read("readings.csv").decode()
    assert "profiles/revision-1.json" not in found.namelist()


@pytest.mark.parametrize(
    ("period", "told"),
    [
        ({"since": "soon"}, "give a day"),
        ({"until": "2025-01-01"}, "the period ends before it begins"),
    ],
)
def test_what_is_no_period_is_told(visits: Visits, period: dict[str, str], told: str) -> None:
    answer = visits.of(Role.QUALITY_OFFICER).post(PAGE, data=PERIOD | period)

    assert answer.status_code == 422
    assert told in answer.text


def test_crew_make_none(visits: Visits) -> None:
    assert visits.of(Role.CREW).post(PAGE, data=PERIOD).status_code == 403
    assert visits.of(Role.CREW, "Carl").get(PAGE).status_code == 403
