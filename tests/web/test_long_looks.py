"""A long file is looked at beside the pages: only whoever sent it sees what it would change."""

from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

import app.actions.long_work as long_work
from app.actions.report_files import KEPT
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_device, a_signed_revision, as_signed, limit
from tests.exchange.test_report_files import a_workbook
from tests.reading_files import BAD_ROWS, GOOD, UNREADABLE, a_file, a_whole_file, digest
from tests.web.test_long_work import HERE, done, looked_at
from tests.web.visits import Visits

STRAYED = a_whole_file(as_signed(heart_rate_high=limit(200)))
MIXED = a_file(GOOD, BAD_ROWS["unknown device"][0])
THEIRS = f"Unit,Time,How,Group,Alert,Value\n{GOOD}\n".encode()
COLUMNS = {
    "source": "Bosun",
    "column-device": "Unit",
    "column-read_at": "Time",
    "column-state_read": "How",
    "column-preset": "Group",
    "column-alarm": "Alert",
    "column-reading": "Value",
    "times": "iso",
}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Visits:
    """Where every file is a long one."""
    monkeypatch.setattr(long_work, "LARGEST_AT_ONCE", 10)
    monkeypatch.setattr(long_work, "LARGEST_SHEET_AT_ONCE", 10)
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    return found


@pytest.fixture
def femi(visits: Visits) -> TestClient:
    return visits.of(Role.FLEET_MANAGER)


def counted(visits: Visits, table: str) -> int:
    with visits.database.reading() as tx:
        return int(tx.execute(sa.text(f"SELECT count(*) FROM {table}")).scalar_one())


def take(client: TestClient, content: bytes, **more: str) -> int:
    answer = client.post(f"{HERE}/take", data={"fingerprint": digest(content), **more})
    return answer.status_code


def test_it_waits_is_looked_at_shown_and_taken(visits: Visits, femi: TestClient) -> None:
    address = looked_at(femi, STRAYED)
    waiting = femi.get(address).text
    assert "Looking at a file of readings, round.csv" in waiting
    assert "You see what it would change before anything is taken in." in waiting
    assert f'href="{address}" hx-get="{address}/now"' in waiting  # also without script

    done(visits)

    told = femi.get(address).text
    assert "1 new reports with 12 readings of 1 devices. Nothing of it is stored yet." in told
    assert f'href="{HERE}/look"' in told
    shown = femi.get(f"{HERE}/look").text
    assert "What round.csv would change" in shown
    assert "can rise from 170 to 200" in shown
    assert "Take the whole file" in shown
    assert counted(visits, "report") == 0

    assert take(femi, STRAYED) == 303
    done(visits)
    assert counted(visits, "report") == 1


def test_it_is_shown_as_a_short_file_is(
    visits: Visits, femi: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_at(femi, MIXED)
    done(visits)
    femi.get(f"{HERE}/look")  # the notice is told once
    long = femi.get(f"{HERE}/look").text

    monkeypatch.setattr(long_work, "LARGEST_AT_ONCE", 10_000)
    femi.post(HERE, files={"file": ("round.csv", MIXED, "text/csv")})

    assert femi.get(f"{HERE}/look").text == long


def test_its_wrong_rows_are_told_and_offered_as_a_file(visits: Visits, femi: TestClient) -> None:
    looked_at(femi, MIXED)
    assert femi.get(f"{HERE}/refused.csv").status_code == 409
    done(visits)

    shown, rows = femi.get(f"{HERE}/look").text, femi.get(f"{HERE}/refused.csv").text

    assert "line 3, device: there is no such device" in shown
    assert "Take the good rows" in shown
    assert "there is no such device" in rows
    assert take(femi, MIXED, good_rows="yes") == 303
    done(visits)
    assert counted(visits, "report") == 1


def test_it_is_not_taken_before_it_was_looked_at(visits: Visits, femi: TestClient) -> None:
    looked_at(femi)

    assert take(femi, a_whole_file(as_signed(heart_rate_high=limit(200)))) == 409
    done(visits)
    assert counted(visits, "report") == 0


def test_until_then_the_page_leads_to_the_work(femi: TestClient) -> None:
    address = looked_at(femi, STRAYED)

    assert femi.get(f"{HERE}/look").headers["location"] == address


def test_a_file_that_nobody_can_read_is_refused_at_once(visits: Visits, femi: TestClient) -> None:
    for content, _ in UNREADABLE.values():
        if len(content) >= 10:
            answer = femi.post(HERE, files={"file": ("x.csv", content, "text/csv")})
            assert answer.status_code in (303, 422)
            if answer.status_code == 303 and "/work/" in answer.headers["location"]:
                done(visits)
                assert "Nothing was stored." in femi.get(answer.headers["location"]).text

    assert counted(visits, "report") == 0


def test_a_file_without_a_good_row_is_told_by_its_rows(visits: Visits, femi: TestClient) -> None:
    looked_at(femi, a_file(BAD_ROWS["unknown device"][0]))
    done(visits)

    shown = femi.get(f"{HERE}/look")

    assert shown.status_code == 422
    assert "line 2, device: there is no such device" in shown.text
    assert "/take" not in shown.text


def test_the_columns_of_another_system_are_asked_for_first(
    visits: Visits, femi: TestClient
) -> None:
    assert looked_at(femi, THEIRS) == f"{HERE}/columns"
    assert counted(visits, "long_work") == 0

    address = femi.post(f"{HERE}/columns", data=COLUMNS).headers["location"]
    assert address == "/skerry/work/1"
    done(visits)

    shown = femi.get(f"{HERE}/look").text
    assert "Read by the column map <strong>Bosun</strong>" in shown
    assert "<td>170</td>" in shown
    assert take(femi, THEIRS) == 303
    done(visits)
    assert counted(visits, "report") == 1


def test_other_columns_mean_another_look(visits: Visits, femi: TestClient) -> None:
    looked_at(femi, THEIRS)
    femi.post(f"{HERE}/columns", data=COLUMNS)
    done(visits)
    again = femi.post(f"{HERE}/columns", data=COLUMNS).headers["location"]

    assert take(femi, THEIRS) == 409  # what was shown holds no longer
    assert femi.get(f"{HERE}/look").headers["location"] == again


def test_a_workbook_goes_the_same_way(visits: Visits, femi: TestClient) -> None:
    content = a_workbook(*(line.split(",") for line in STRAYED.decode().splitlines()))
    looked_at(femi, content)
    done(visits)

    assert "can rise from 170 to 200" in femi.get(f"{HERE}/look").text
    assert take(femi, content) == 303


def test_nobody_else_sees_it(visits: Visits, femi: TestClient) -> None:
    address = looked_at(femi, STRAYED)
    done(visits)
    fred, outsider = visits.of(Role.FLEET_MANAGER, "Fred"), visits.of_outsider()

    for other in (fred, outsider):
        for where in (address, f"{address}/now"):
            assert other.get(where).status_code == 404
    assert address not in fred.get("/skerry/work").text
    assert fred.get(f"{HERE}/look").status_code == 409
    assert fred.get(f"{HERE}/refused.csv").status_code == 409
    assert take(fred, STRAYED) == 409
    assert address in femi.get("/skerry/work").text


def test_let_go_it_is_kept_no_longer_and_never_looked_at(visits: Visits, femi: TestClient) -> None:
    address = looked_at(femi, STRAYED)
    assert f'action="{HERE}/drop"' in femi.get(address).text

    femi.post(f"{HERE}/drop", data={"fingerprint": digest(MIXED)})  # another file than this
    assert counted(visits, "pending_upload") == 1
    answer = femi.post(f"{HERE}/drop", data={"fingerprint": digest(STRAYED)})

    assert answer.headers["location"] == HERE
    assert counted(visits, "pending_upload") == 0
    done(visits)
    assert "This file is kept no longer" in femi.get(address).text
    assert femi.get(f"{HERE}/look").status_code == 409


def test_another_file_takes_its_place(visits: Visits, femi: TestClient) -> None:
    first, second = looked_at(femi, MIXED), looked_at(femi, STRAYED)
    done(visits)

    assert "You chose another file since" in femi.get(first).text
    assert "1 new reports with 12 readings" in femi.get(second).text


def test_after_an_hour_it_is_gone(visits: Visits, femi: TestClient) -> None:
    looked_at(femi, STRAYED)
    visits.now += KEPT / 2
    done(visits)
    visits.now += KEPT - timedelta(seconds=1)  # from when it could be seen
    assert femi.get(f"{HERE}/look").status_code == 200

    visits.now += timedelta(seconds=1)

    assert femi.get(f"{HERE}/look").status_code == 409
    assert take(femi, STRAYED) == 409
