from pathlib import Path
from typing import Any

import pytest

from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_clearances import a_serviced_device
from tests.builders import HOUR, NOW
from tests.web.visits import Visits

DEVICES = "/api/v1/skerry/devices"
NEW: dict[str, Any] = {
    "tag": "air-1",
    "model": "petrel",
    "station": "South",
    "serial": "S-1",
    "loan": {"owner": "Tern Air", "since": "2026-03-01"},
}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_serviced_device)
    visits.now = NOW + 5 * HOUR
    return visits


def test_a_program_lists_the_register_with_clearance_and_advice(visits: Visits) -> None:
    (one,) = visits.of(Role.CREW).get(DEVICES).json()

    assert (one["tag"], one["status"], one["overdue"]) == ("boat-3", "in-service", False)
    assert one["clearance"]["state"] == "not-cleared"
    assert "use this one" in one["clearance"]["advice"]
    assert one["clearance"]["why"][0].startswith("It came back from service")


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("clearance=not-cleared", 1),
        ("clearance=cleared", 0),
        ("status=retired", 0),
        ("station=North&model=dunlin", 1),
        ("overdue=true", 0),
    ],
)
def test_it_is_narrowed(visits: Visits, asked: str, found: int) -> None:
    assert len(visits.of(Role.CREW).get(f"{DEVICES}?{asked}").json()) == found


def test_it_is_told_a_part_at_a_time(visits: Visits) -> None:
    visits.of(Role.FLEET_MANAGER).post(DEVICES, json=NEW)
    crew = visits.of(Role.CREW)

    parts = [crew.get(f"{DEVICES}?most=1&after={after}").json() for after in range(3)]

    assert [[one["tag"] for one in part] for part in parts] == [["boat-3"], ["air-1"], []]


def test_what_cannot_be_asked_is_refused(visits: Visits) -> None:
    assert visits.of(Role.CREW).get(f"{DEVICES}?status=lost").status_code == 422


def test_a_device_is_added_and_its_history_told(visits: Visits) -> None:
    answer = visits.of(Role.FLEET_MANAGER).post(DEVICES, json=NEW)

    assert answer.status_code == 201
    told = answer.json()
    assert (told["serial"], told["loan"]["owner"]) == ("S-1", "Tern Air")
    assert told["history"][0]["kind"] == "came-on-loan"
    assert told["history"][0]["changes"]["serial"] == ["", "S-1"]


@pytest.mark.parametrize(
    ("instead", "status", "column"),
    [
        ({"tag": "boat-3"}, 422, "tag"),
        ({"tag": "air-1.0"}, 422, "tag"),
        ({"station": ""}, 422, "station"),
        ({"colour": "red"}, 422, "colour"),
    ],
)
def test_what_is_wrong_is_told_by_its_field(
    visits: Visits, instead: dict[str, Any], status: int, column: str
) -> None:
    answer = visits.of(Role.FLEET_MANAGER).post(DEVICES, json=NEW | instead)

    assert answer.status_code == status
    assert column in str(answer.json()["errors"][0]["column"])
    assert answer.headers["content-type"] == "application/problem+json"


def test_several_changes_are_kept_each_by_itself(visits: Visits) -> None:
    body = {"station": "South", "software": "4.0", "spare": True, "why": "moved and updated"}
    told = visits.of(Role.TECHNICIAN).patch(f"{DEVICES}/boat-3", json=body).json()

    assert (told["station"], told["software"], told["status"]) == ("South", "4.0", "spare")
    kinds = [one["kind"] for one in told["history"]]
    assert set(kinds[:3]) == {"made-a-spare", "software-changed", "moved"}
    assert told["clearance"]["state"] == "not-cleared"


def test_one_refused_change_keeps_all_of_them_out(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)
    body = {"station": "South", "software": " "}

    assert tess.patch(f"{DEVICES}/boat-3", json=body).status_code == 422
    assert tess.get(f"{DEVICES}/boat-3").json()["station"] == "North"


@pytest.mark.parametrize("method", ["get", "patch"])
def test_another_agencys_device_is_not_found(visits: Visits, method: str) -> None:
    more = {"json": {"spare": True}} if method == "patch" else {}
    outsider = visits.of_outsider()

    assert getattr(outsider, method)(f"{DEVICES}/boat-3", **more).status_code == 404
    elsewhere = f"{DEVICES.replace('skerry', 'elsewhere')}/boat-3"
    assert getattr(outsider, method)(elsewhere, **more).status_code == 404


@pytest.mark.parametrize(
    ("role", "status"), [(Role.CREW, 403), (Role.TECHNICIAN, 403), (Role.FLEET_MANAGER, 201)]
)
def test_only_the_fleet_manager_adds(visits: Visits, role: Role, status: int) -> None:
    assert visits.of(role).post(DEVICES, json=NEW).status_code == status
