from pathlib import Path

import pytest

from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_device_findings import STRAYED
from tests.builders import HOUR, NOW, a_device, a_report, a_signed_revision
from tests.web.visits import Visits

PAGE = "/skerry/devices/boat-3/findings"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_signed_revision)
    visits.seed(a_device)
    visits.seed(lambda tx: a_report(tx, STRAYED))
    return visits


def test_all_of_them_in_three_steps_and_one_reading(visits: Visits) -> None:
    femi, tess = visits.of(Role.FLEET_MANAGER), visits.of(Role.TECHNICIAN)
    assert "Contain all 3" in femi.get(PAGE).text
    assert f'href="{PAGE}"' in femi.get("/skerry/devices/boat-3").text
    assert f'href="{PAGE}"' in femi.get("/skerry/findings/1").text

    assert femi.post(PAGE, data={"to": "contained", "note": "off"}).status_code == 303
    told = tess.post(PAGE, data={"to": "corrected", "note": "set", "cause": "human-set"})
    assert told.headers["location"] == PAGE
    assert "3 findings are corrected." in tess.get(PAGE).text
    assert "Read preschool blind" in femi.get(PAGE).text
    visits.now = NOW + HOUR
    visits.seed(lambda tx: a_report(tx, read_at=NOW + HOUR))
    assert femi.post(PAGE, data={"to": "verified"}).status_code == 303

    page = femi.get(PAGE).text
    assert "3 findings are verified." in page
    assert "Verify" not in page


def test_what_was_typed_is_kept_where_nothing_is_stored(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    femi.post(PAGE, data={"to": "contained", "note": "off"})

    refused = femi.post(PAGE, data={"to": "corrected", "note": "set <b>", "cause": "gremlins"})

    assert refused.status_code == 422
    assert "choose one" in refused.text
    assert "set &lt;b&gt;</textarea>" in refused.text


def test_a_step_that_none_can_take_says_why(visits: Visits) -> None:
    refused = visits.of(Role.FLEET_MANAGER).post(PAGE, data={"to": "verified"})

    assert refused.status_code == 409
    assert "No finding of boat-3 can become verified now." in refused.text


def test_who_only_looks_is_offered_no_step(visits: Visits) -> None:
    quinn = visits.of(Role.QUALITY_OFFICER)

    assert '<form class="acts"' not in quinn.get(PAGE).text
    assert quinn.post(PAGE, data={"to": "contained", "note": "off"}).status_code == 403


def test_a_device_without_a_finding_says_so(visits: Visits) -> None:
    visits.seed(lambda tx: a_device(tx, "boat-4"))
    femi = visits.of(Role.FLEET_MANAGER)

    assert "no finding that is not closed" in femi.get("/skerry/devices/boat-4/findings").text
    assert femi.get("/skerry/devices/boat-9/findings").status_code == 404


def test_a_program_takes_them_together(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    steps = "/api/v1/skerry/devices/boat-3/findings/steps"

    told = femi.post(steps, json={"to": "contained", "note": "off"})

    assert told.json() == {"moved": [1, 2, 3], "left": {}}
    assert femi.post(steps, json={"to": "verified"}).status_code == 409
