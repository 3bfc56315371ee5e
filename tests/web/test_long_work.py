"""A large file and a large fleet: asked for on a page, done beside it, told on a page again."""

from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import app.actions.long_work as long_work
import app.web.reaudits as reaudits
from app.domain.long_work import LONG_WAIT
from app.domain.people import Role
from app.jobs.worker import do_all
from app.storage.database import Database
from tests.builders import a_device, a_report, a_signed_revision, as_signed, limit
from tests.reading_files import BAD_ROWS, GOOD, a_file, a_whole_file, digest
from tests.web.visits import Visits

HERE = "/skerry/fleet/readings"
FILE = a_whole_file(as_signed(heart_rate_high=limit(200)))
MIXED = a_file(GOOD, BAD_ROWS["unknown device"][0])


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Visits:
    """Where every file and every fleet is a large one."""
    monkeypatch.setattr(long_work, "LARGEST_AT_ONCE", 10)
    monkeypatch.setattr(reaudits, "MOST_AT_ONCE", 0)
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    return found


@pytest.fixture
def femi(visits: Visits) -> TestClient:
    return visits.of(Role.FLEET_MANAGER)


def looked_at(client: TestClient, content: bytes = FILE) -> str:
    """Where it is told what it would change, once that was found out."""
    answer = client.post(HERE, files={"file": ("round.csv", content, "text/csv")})
    assert answer.status_code == 303
    return answer.headers["location"]


def asked(visits: Visits, client: TestClient, content: bytes = FILE, **more: str) -> str:
    """Where it is told what became of it."""
    looked_at(client, content)
    done(visits)
    answer = client.post(f"{HERE}/take", data={"fingerprint": digest(content), **more})
    assert answer.status_code == 303
    return answer.headers["location"]


def done(visits: Visits) -> None:
    do_all(visits.database, clock=lambda: visits.now)


def test_a_large_file_waits_is_done_and_told(visits: Visits, femi: TestClient) -> None:
    address = asked(visits, femi)

    waiting = femi.get(address).text
    assert address == "/skerry/work/2"
    assert "Taking in a file of readings, round.csv" in waiting
    assert "Nothing of it is stored yet" in waiting
    assert f'href="{address}" hx-get="{address}/now"' in waiting  # also without script

    done(visits)

    told = femi.get(address).text
    assert "1 reports with 12 readings were taken in." in told
    assert "hx-trigger" not in told
    assert "Femi" in femi.get("/skerry/devices/boat-3").text


def test_the_part_that_changes_is_the_page_s_own(visits: Visits, femi: TestClient) -> None:
    address = asked(visits, femi)

    part = femi.get(f"{address}/now").text

    assert part.startswith('<div id="work-now"')
    assert part.strip() in femi.get(address).text


def test_a_small_file_is_looked_at_and_taken_in_at_once(
    femi: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(long_work, "LARGEST_AT_ONCE", 10_000)

    shown = femi.post(HERE, files={"file": ("round.csv", FILE, "text/csv")})
    taken = femi.post(f"{HERE}/take", data={"fingerprint": digest(FILE)})

    assert "What round.csv would change" in shown.text
    assert taken.headers["location"] == "/skerry/fleet"


def test_only_the_good_rows_where_they_are_asked_for(visits: Visits, femi: TestClient) -> None:
    address = asked(visits, femi, MIXED, good_rows="yes")
    done(visits)

    assert "1 row was left out." in femi.get(address).text


def test_a_refused_file_is_told_by_its_rows(visits: Visits, femi: TestClient) -> None:
    address = asked(visits, femi, MIXED)
    done(visits)

    told = femi.get(address).text
    assert "Nothing was stored." in told
    assert "line 3, device: there is no such device" in told


def test_a_large_fleet_is_held_against_the_policy_beside_the_pages(
    visits: Visits, femi: TestClient
) -> None:
    visits.seed(a_report)
    address = femi.post("/skerry/fleet/reaudit").headers["location"]
    done(visits)

    told = femi.get(address).text
    assert "1 devices held against today’s policy, 0 findings opened." in told
    assert 'href="/skerry/fleet/reaudit"' in told


def test_all_of_it_is_listed(visits: Visits, femi: TestClient) -> None:
    asked(visits, femi)
    done(visits)

    listed = femi.get("/skerry/work").text

    assert 'href="/skerry/work/2"' in listed
    assert "were taken in" in listed
    assert 'href="/skerry/work"' in femi.get("/skerry/fleet/readings").text


def test_when_nobody_works_the_page_says_whom_to_ask(visits: Visits, femi: TestClient) -> None:
    address = asked(visits, femi)
    assert "Nobody seems to be working" not in femi.get(address).text

    visits.wait(LONG_WAIT + timedelta(seconds=1))

    assert "Nobody seems to be working" in femi.get(address).text


def test_an_outsider_finds_nothing(visits: Visits, femi: TestClient) -> None:
    address = asked(visits, femi)

    assert visits.of_outsider().get(address).status_code == 404
    assert femi.get("/skerry/work/77").status_code == 404
