"""A large file that a program sends: 202 at once, and what came of it to be asked for."""

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

import app.actions.long_work as long_work
from app.domain.people import Role
from app.jobs.worker import do_all
from app.storage.database import Database
from tests.builders import a_device, a_signed_revision, as_signed, limit
from tests.reading_files import BAD_ROWS, a_file, a_whole_file
from tests.web.visits import Visits

HERE = "/api/v1/skerry/readings"
FILE = a_whole_file(as_signed(heart_rate_high=limit(200)))
OTHER = a_whole_file()


@pytest.fixture
def visits(database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Visits:
    monkeypatch.setattr(long_work, "LARGEST_AT_ONCE", 10)
    found = Visits(database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    return found


@pytest.fixture
def femi(visits: Visits) -> TestClient:
    return visits.of(Role.FLEET_MANAGER)


def send(client: TestClient, content: bytes = FILE, key: str = "") -> Any:
    headers = {"Content-Type": "text/csv"} | ({"Idempotency-Key": key} if key else {})
    return client.post(HERE, content=content, headers=headers)


def done(visits: Visits) -> None:
    do_all(visits.database, clock=lambda: visits.now)


def test_it_is_accepted_and_leads_to_what_came_of_it(visits: Visits, femi: TestClient) -> None:
    answer = send(femi)
    assert answer.status_code == 202
    assert answer.json()["state"] == "waiting"
    address = answer.headers["location"]
    assert int(answer.headers["retry-after"]) > 0

    done(visits)

    told = femi.get(address).json()
    assert told["state"] == "done"
    assert told["outcome"] == {"new": 1, "known": 0, "readings": 12, "refused": 0}
    assert told["ended_at"] is not None


def test_the_same_key_is_the_same_work(visits: Visits, femi: TestClient) -> None:
    first = send(femi, key="one").json()["work"]
    assert send(femi, key="one").json()["work"] == first
    done(visits)

    again = send(femi, key="one").json()

    assert (again["work"], again["state"]) == (first, "done")
    assert send(femi, key="two").json()["work"] != first


def test_another_file_with_the_same_key_is_refused(femi: TestClient) -> None:
    send(femi, key="one")

    assert send(femi, OTHER, key="one").status_code == 409


def test_a_key_that_was_answered_at_once_is_answered_alike(
    femi: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as then:
        then.setattr(long_work, "LARGEST_AT_ONCE", 10_000)
        first = send(femi, key="one")
    assert first.status_code == 200

    assert (send(femi, key="one").status_code, send(femi, key="one").json()) == (200, first.json())


def test_a_refused_file_tells_each_fault(visits: Visits, femi: TestClient) -> None:
    address = send(femi, a_file(BAD_ROWS["unknown device"][0])).headers["location"]
    done(visits)

    told = femi.get(address).json()

    assert (told["state"], told["outcome"]) == ("failed", None)
    assert told["errors"][0]["line"] == 2
    assert told["errors"][0]["column"] == "device"


def test_nobody_else_learns_of_it(visits: Visits, femi: TestClient) -> None:
    address = send(femi).headers["location"]

    assert visits.of(Role.CREW).get(address).status_code == 403
    assert visits.of_outsider().get(address).status_code == 404
    assert femi.get("/api/v1/skerry/work/77").status_code == 404
