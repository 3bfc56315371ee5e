"""Device reports sent in by programs: taken whole, or refused by line and column."""

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from app.web.security import LARGEST_BODY, LARGEST_READINGS
from tests.builders import NOW, PRESET, a_device, a_signed_revision
from tests.reading_files import AT, BAD_ROWS, GOOD, LOOSER, UNREADABLE, a_file, digest
from tests.web.visits import Visits

REPORTS, READINGS = "/api/v1/skerry/reports", "/api/v1/skerry/readings"
KEPT = ("report", "deviation", "finding", "device_now", "ledger", "layout")
BODY: dict[str, Any] = {
    "device": "boat-3",
    "preset": PRESET,
    "state_read": "power-on",
    "read_at": AT,
    "readings": {
        "heart-rate-high": {"state": "on", "limit": 200, "priority": "medium"},
        "spo2-high": {"state": "off"},
        "spo2-low": {"state": "could-not-read", "why": "display cracked"},
    },
    "reader": "Bench rig",
    "minutes_off": 12,
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


def counted(visits: Visits) -> dict[str, int]:
    with visits.database.reading() as tx:
        return {
            name: tx.execute(sa.text(f"SELECT count(*) FROM {name}")).scalar_one() for name in KEPT
        }


def send(
    client: TestClient, body: object, *, key: str = "once", kind: str = "application/json"
) -> Response:
    text = body if isinstance(body, str | bytes) else json.dumps(body)
    headers = {"Content-Type": kind, "Idempotency-Key": key}
    return client.post(REPORTS, content=text, headers=headers)


def send_file(client: TestClient, content: bytes, kind: str = "text/csv") -> Response:
    return client.post(READINGS, content=content, headers={"Content-Type": kind})


def with_(**instead: Any) -> dict[str, Any]:
    return deepcopy(BODY) | instead


def with_reading(alarm: str, **reading: Any) -> dict[str, Any]:
    return with_(readings={alarm: reading})


def problem(answer: Response, status: int) -> dict[str, Any]:
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    told: dict[str, Any] = answer.json()
    assert told["status"] == status
    return told


class TestOneReport:
    def test_it_is_judged_at_once_and_opens_a_finding(self, femi: TestClient) -> None:
        answer = send(femi, BODY)

        told = answer.json()
        assert answer.status_code == 201
        assert (told["device"], told["preset"], told["revision"]) == ("boat-3", PRESET, 1)
        assert {
            (one["alarm"], one["direction"], one["severity"]) for one in told["deviations"]
        } == {
            ("heart-rate-high", "looser", "unsafe"),
            ("spo2-low", "unread", "note"),
        }
        (found,) = femi.get("/api/v1/skerry/findings").json()
        assert (found["alarm"], found["severity"]) == ("heart-rate-high", "unsafe")
        page = femi.get("/skerry/devices/boat-3/reports/1").text
        assert "Bench rig (sent in by Femi)" in page
        assert "a report of a program" in page

    def test_the_same_key_and_report_changes_nothing(
        self, visits: Visits, femi: TestClient
    ) -> None:
        first = send(femi, BODY)
        before = counted(visits)

        assert send(femi, BODY).json() == first.json()
        assert counted(visits) == before

    @pytest.mark.parametrize(
        ("key", "told"),
        [("once", "idempotency key"), ("twice", "has a report of preschool at that time already")],
    )
    def test_another_report_of_the_same_key_or_time_is_a_conflict(
        self, visits: Visits, femi: TestClient, key: str, told: str
    ) -> None:
        send(femi, BODY)
        before = counted(visits)

        answer = send(femi, with_reading("heart-rate-high", state="on", limit=170), key=key)

        assert told in problem(answer, 409)["detail"]
        assert counted(visits) == before

    def test_an_unknown_device_is_not_found(self, visits: Visits, femi: TestClient) -> None:
        before = counted(visits)

        problem(send(femi, with_(device="<script>")), 404)

        assert counted(visits) == before

    @pytest.mark.parametrize(
        ("body", "why"),
        [
            (with_(preset="CHILD"), "no such preset in revision 1"),
            (with_(mood="good"), "mood: unknown key"),
            (with_(state_read="asleep"), "state_read: "),
            (with_(read_at="2026-03-02T09:00:00"), "read_at: has no zone"),
            (with_(read_at="2026-03-02T09:00:01Z"), "read_at: lies in the future"),
            (with_(read_at="yesterday"), "read_at: must be a time such as"),
            (with_(read_at=1_772_442_000), "read_at: must be text"),
            (with_(minutes_off="12"), "minutes_off: must be a number"),
            (with_(minutes_off=-1), "minutes_off: "),
            (with_(minutes_off=1.5), "minutes_off: must be"),
            (with_(reader="x" * 201), "reader: "),
            (with_(software="4\x001"), "software: remove the characters that cannot be printed"),
            (with_(readings={}), "readings: "),
            (with_(readings=[]), "readings: must be an object"),
            (with_reading("pulse", state="off"), "readings / pulse: is no alarm condition"),
            (with_reading("asystole.deep", state="off"), "is no alarm condition"),
            (with_reading("heart-rate-high", state="loud"), "readings / heart-rate-high / state: "),
            (with_reading("heart-rate-high", state="on"), "this alarm needs its limit"),
            (with_reading("asystole", state="on", limit=1), "this alarm has no limit"),
            (with_reading("heart-rate-high", state="on", limit="170"), "limit: must be a number"),
            (with_reading("heart-rate-high", state="on", limit=True), "limit: must be a number"),
            (with_reading("heart-rate-high", state="on", limit=1e7), "limit: "),
            (
                with_reading("heart-rate-high", state="on", limit=1, unit="kPa"),
                "unit: must be /min",
            ),
            (with_reading("heart-rate-high", state="off", limit=1), "that is off"),
            (with_reading("heart-rate-high", state="could-not-read"), "say why"),
            (with_reading("heart-rate-high", state="not-read"), "nothing was read"),
            ([], "the text: must be an object"),
        ],
    )
    def test_what_is_wrong_is_named_and_nothing_stored(
        self, visits: Visits, femi: TestClient, body: object, why: str
    ) -> None:
        before = counted(visits)

        told = problem(send(femi, body), 422)

        assert why in told["detail"]
        assert all(one["reason"] for one in told["errors"])
        assert counted(visits) == before

    @pytest.mark.parametrize(
        ("text", "line", "column"),
        [
            ('{\n "device": "boat-3",\n "device": "boat-4"\n}', 3, 2),
            ('{"device": NaN}', 1, 12),
            ('{"device": 1e309}', 1, 12),
            ('{"device": "boat-3"', 1, 20),
            ("", 1, 1),
            (b'{"device":\n "\xff"}', 2, "file"),
            (json.dumps(BODY, indent=1).replace("200", '"200"'), 9, 13),
        ],
        ids=["key twice", "NaN", "1e309", "cut off", "empty", "not UTF-8", "number as text"],
    )
    def test_the_place_is_told(
        self, visits: Visits, femi: TestClient, text: str | bytes, line: int, column: int | str
    ) -> None:
        before = counted(visits)

        (fault, *_) = problem(send(femi, text), 422)["errors"]

        assert (fault["line"], fault["column"]) == (line, column)
        assert counted(visits) == before

    @pytest.mark.parametrize("key", [None, "", "x" * 201])
    def test_a_key_is_needed(self, femi: TestClient, key: str | None) -> None:
        headers = {"Content-Type": "application/json"}
        headers |= {} if key is None else {"Idempotency-Key": key}

        told = problem(femi.post(REPORTS, content=json.dumps(BODY), headers=headers), 422)

        assert told["errors"][0]["column"] == "idempotency-key"


class TestAFile:
    def test_it_is_taken_and_again_it_is_known(self, visits: Visits, femi: TestClient) -> None:
        content = a_file(LOOSER)

        first, again = send_file(femi, content), send_file(femi, content)

        counts = {"fingerprint": digest(content), "new": 1, "known": 0, "readings": 1}
        assert (first.status_code, first.json()) == (200, counts)
        assert again.json() == counts | {"new": 0, "known": 1, "readings": 0}
        assert counted(visits)["report"] == 1

    @pytest.mark.parametrize("name", BAD_ROWS)
    def test_it_is_taken_whole_or_not_at_all(
        self, visits: Visits, femi: TestClient, name: str
    ) -> None:
        row, why = BAD_ROWS[name]
        before = counted(visits)

        (fault,) = problem(send_file(femi, a_file(GOOD, row)), 422)["errors"]

        assert (fault["line"], f"{fault['column']}: {fault['reason']}") == (3, why)
        assert counted(visits) == before

    @pytest.mark.parametrize("name", UNREADABLE)
    def test_what_cannot_be_read_is_refused(
        self, visits: Visits, femi: TestClient, name: str
    ) -> None:
        content, _ = UNREADABLE[name]
        before = counted(visits)

        assert problem(send_file(femi, content), 422)["errors"][0]["line"] is not None
        assert counted(visits) == before


@pytest.mark.parametrize("address", [REPORTS, READINGS])
class TestTheDoor:
    def test_another_site_cannot_use_the_cookie(self, femi: TestClient, address: str) -> None:
        problem(femi.post(address, headers={"Sec-Fetch-Site": "cross-site"}), 403)
        problem(femi.post(address, headers={"Origin": "https://elsewhere.example"}), 403)

    def test_nobody_and_outsiders_stay_out(self, visits: Visits, address: str) -> None:
        problem(TestClient(visits.app).post(address), 401)
        problem(visits.of_outsider().post(address), 404)

    @pytest.mark.parametrize(
        "kind", ["", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; x"]
    )
    def test_another_kind_of_text_is_told(self, femi: TestClient, address: str, kind: str) -> None:
        headers = {"Content-Type": kind, "Idempotency-Key": "once"}

        answer = femi.post(address, content=b"", headers=headers)

        assert answer.status_code == (422 if kind.startswith("multipart") else 415)
        assert answer.headers["content-type"] == "application/problem+json"

    def test_there_is_a_limit(self, femi: TestClient, address: str) -> None:
        most = LARGEST_READINGS if address == READINGS else LARGEST_BODY

        headers = {"Content-Length": str(most + 1)}
        problem(femi.post(address, content=b"", headers=headers), 413)


@pytest.mark.parametrize(
    ("role", "report", "file"),
    [
        (Role.TECHNICIAN, 201, 200),
        (Role.CREW, 201, 403),
        (Role.AUTHOR, 403, 403),
        (Role.ADMINISTRATOR, 403, 403),
    ],
)
def test_who_may_send_in(visits: Visits, role: Role, report: int, file: int) -> None:
    client = visits.of(role)

    assert send(client, BODY).status_code == report
    assert send_file(client, a_file(GOOD.replace("power-on", "in-use"))).status_code == file


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", 1),
        ("?severity=unsafe", 1),
        ("?severity=off-protocol", 0),
        ("?severity=off-protocol&severity=unsafe", 1),
        ("?status=open", 1),
        ("?status=closed", 0),
        ("?device=boat-3", 1),
        ("?device=boat-4", 0),
    ],
)
def test_findings_can_be_narrowed(femi: TestClient, asked: str, found: int) -> None:
    send(femi, BODY)

    assert len(femi.get(f"/api/v1/skerry/findings{asked}").json()) == found


def test_an_unknown_severity_is_a_problem(femi: TestClient) -> None:
    problem(femi.get("/api/v1/skerry/findings?severity=dire"), 422)


def test_the_report_is_dated_by_the_clock_of_the_service(femi: TestClient) -> None:
    received = send(femi, BODY).json()["received_at"]

    assert received == NOW.isoformat().replace("+00:00", "Z")
