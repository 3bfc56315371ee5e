from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_findings import STRAYED
from tests.builders import HOUR, NOW, a_device, a_report, a_signed_revision
from tests.web.visits import Visits

V1 = "/api/v1/skerry"
ONE, HELD = f"{V1}/findings/1", f"{V1}/devices/boat-3/quarantine"
PLACE: dict[str, Any] = {"reason": "harm is possible"}
LINK: dict[str, Any] = {
    "given_by": "Femi",
    "taken_by": "Tess",
    "at": NOW.isoformat(),
    "place": "store",
}
LOG: dict[str, Any] = {"sha256": "ab" * 32, "place": "safe"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    found.seed(lambda tx: a_report(tx, STRAYED))
    return found


def told(client: TestClient, address: str, status: int = 200, **body: Any) -> dict[str, Any]:
    answer = client.post(address, json=body)
    assert answer.status_code == status, answer.text
    found: dict[str, Any] = answer.json()
    return found


def step(client: TestClient, to: str, status: int = 200, **body: Any) -> dict[str, Any]:
    return told(client, f"{ONE}/steps", status, to=to, **body)


def test_a_whole_life(visits: Visits) -> None:
    femi, tess = visits.of(Role.FLEET_MANAGER), visits.of(Role.TECHNICIAN)

    assert step(femi, "contained", note="off the boat")["status"] == "contained"
    assert told(femi, f"{ONE}/owner", owner="tess")["owner"] == "Tess"
    corrected = step(tess, "corrected", note="set to 170", cause="software-update")
    assert corrected["cause"] == "software-update"
    assert "Nobody but Tess" in step(tess, "verified", 409)["detail"]
    visits.seed(lambda tx: a_report(tx, read_at=NOW + HOUR))
    visits.now = NOW + 2 * HOUR
    assert step(tess, "verified", heard="yes", seen="yes")["verified_by_report"] == 2
    told(femi, f"{ONE}/comments", text="well done")
    closed = step(femi, "closed")

    assert [one["kind"] for one in closed["story"]] == [
        "opened",
        "contained",
        "assigned",
        "corrected",
        "verified",
        "commented",
        "closed",
    ]
    assert (closed["heard"], closed["due_at"], closed["overdue"]) == ("yes", None, False)
    assert closed == femi.get(ONE).json()
    assert femi.get(f"{V1}/findings").json() == []
    assert len(femi.get(f"{V1}/findings", params={"status": "closed"}).json()) == 1


def test_what_a_closing_lacks_is_named(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    for to in ("contained", "corrected"):
        step(femi, to, note="x")
    visits.seed(lambda tx: a_report(tx, read_at=NOW + HOUR))
    refused = step(femi, "contained", 409, note="x")
    assert refused["title"] == "Not possible in this state"

    wrong = step(femi, "verified", 422, heard="yes")
    assert [one["column"] for one in wrong["errors"]] == ["seen"]


def test_it_is_accepted_until_a_day(visits: Visits) -> None:
    dana, femi = visits.of(Role.MEDICAL_DIRECTOR), visits.of(Role.FLEET_MANAGER)
    body: dict[str, Any] = {"reason": "next revision", "until": "2026-03-04"}

    told(femi, f"{ONE}/acceptance", 403, **body)
    assert told(dana, f"{ONE}/acceptance", **body)["accepted_until"] == "2026-03-04"
    assert len(femi.get(f"{V1}/findings?accepted=true").json()) == 1
    assert told(dana, f"{ONE}/acceptance/withdraw")["accepted_until"] is None
    assert femi.get(f"{V1}/findings?accepted=true").json() == []


def test_its_device_is_held_and_released(visits: Visits) -> None:
    dana, femi = visits.of(Role.MEDICAL_DIRECTOR), visits.of(Role.FLEET_MANAGER)
    step(femi, "contained", note="x")

    assert told(femi, f"{ONE}/quarantine", **PLACE)["quarantined"] is True
    assert len(femi.get(f"{V1}/findings?quarantined=true").json()) == 1
    assert "Export the log first" in step(femi, "corrected", 409, note="x")["detail"]
    chain = told(femi, f"{HELD}/custody", **LINK)["custody"]
    assert [(one["given_by"], one["taken_by"]) for one in chain] == [("Femi", "Tess")]
    told(femi, f"{HELD}/without-log", 403, reason="x")
    told(dana, f"{HELD}/without-log", reason="no port")
    assert told(femi, f"{HELD}/log", **LOG)["log_sha256"] == "ab" * 32
    assert told(femi, f"{HELD}/release", reason="done")["standing"] is False
    assert step(femi, "corrected", note="x")["quarantined"] is False


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", 1),
        ("severity=unsafe", 1),
        ("severity=note", 0),
        ("alarm=heart-rate-high", 1),
        ("alarm=spo2-low", 0),
        ("station=North&model=dunlin&device=boat-3", 1),
        ("station=South", 0),
        ("kind=use", 0),
        ("cause=unknown", 0),
        ("mine=true", 0),
        ("overdue=true", 0),
        ("look_again=true", 0),
    ],
)
def test_findings_are_chosen(visits: Visits, asked: str, found: int) -> None:
    answer = visits.of(Role.QUALITY_OFFICER).get(f"{V1}/findings?{asked}")

    assert len(answer.json()) == found


@pytest.mark.parametrize("asked", ["severity=dire", "status=lost", "cause=ghosts", "kind=x"])
def test_what_is_not_known_is_refused(visits: Visits, asked: str) -> None:
    assert visits.of(Role.CREW).get(f"{V1}/findings?{asked}").status_code == 422


WAYS: list[tuple[str, dict[str, Any]]] = [
    (f"{ONE}/steps", {"to": "contained", "note": "x"}),
    (f"{ONE}/acceptance", {"reason": "x", "until": "2026-03-04"}),
    (f"{ONE}/acceptance/withdraw", {}),
    (f"{ONE}/owner", {"owner": ""}),
    (f"{ONE}/comments", {"text": "x"}),
    (f"{ONE}/quarantine", PLACE),
    (f"{HELD}/custody", LINK),
    (f"{HELD}/log", LOG),
    (f"{HELD}/without-log", {"reason": "x"}),
    (f"{HELD}/release", {"reason": "x"}),
]


@pytest.mark.parametrize(("address", "body"), WAYS)
def test_a_stranger_and_an_outsider_change_nothing(
    visits: Visits, address: str, body: dict[str, Any]
) -> None:
    stranger, outsider = TestClient(visits.app), visits.of_outsider()

    assert stranger.post(address, json=body).status_code == 401
    assert outsider.post(address, json=body).status_code == 404
    elsewhere = address.replace("skerry", "elsewhere")
    assert outsider.post(elsewhere, json=body).status_code == 404


@pytest.mark.parametrize(("address", "body"), WAYS)
def test_no_change_comes_from_another_site(
    visits: Visits, address: str, body: dict[str, Any]
) -> None:
    femi = visits.of(Role.FLEET_MANAGER)

    answer = femi.post(address, json=body, headers={"Sec-Fetch-Site": "cross-site"})

    assert answer.status_code == 403
