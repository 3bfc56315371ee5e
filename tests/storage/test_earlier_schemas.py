"""Data of every schema that was ever released come through to the newest one."""

from collections.abc import Iterator

import pytest

from app.domain.finding_life import FindingStatus
from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus
from app.domain.people import Role
from app.lookups.finding_stories import finding_story
from app.lookups.findings import finding
from app.lookups.fleet import wall
from app.lookups.ledger import prove_ledger
from app.lookups.revisions import all_revisions
from app.storage.database import Database
from app.storage.migrating import open_database
from tests.builders import DAY, HOUR, NOW, a_person, a_report
from tests.storage.older import KEPT, fill


@pytest.fixture(params=KEPT, ids=lambda path: path.stem)
def upgraded(request: pytest.FixtureRequest, empty_url: str) -> Iterator[Database]:
    fill(empty_url, request.param)
    database = open_database(empty_url, now=NOW)
    yield database
    database.dispose()


def test_what_was_stored_is_still_told(upgraded: Database) -> None:
    with upgraded.reading() as tx:
        agency = a_person(tx).agency_id
        seen = wall(tx, agency_id=agency, now=NOW + 2 * DAY)
        held = {one.mark.device.tag: one.status for one in seen.devices}
        found = finding(tx, agency_id=agency, finding_id=1, now=NOW)
        numbers = [line.number for line in all_revisions(tx, agency_id=agency, now=NOW)]

    assert held["boat-3"] is DeviceStatus.UNSAFE
    assert found.finding.status is FindingStatus.CONTAINED
    assert numbers == [1, 2, 3]


def test_a_finding_has_its_story_and_its_due_times(upgraded: Database) -> None:
    with upgraded.reading() as tx:
        agency = a_person(tx).agency_id
        story = finding_story(tx, agency_id=agency, finding_id=1, now=NOW)

    found = story.page.finding
    assert [one.kind.value for one in story.events] == ["opened", "contained"]
    assert found.contained is not None
    assert story.events[-1].name == found.contained.name
    assert found.verify_due_at > found.contain_due_at > found.opened_at


def test_the_ledger_still_holds(upgraded: Database) -> None:
    with upgraded.reading() as tx:
        assert prove_ledger(tx).holds


def test_the_work_goes_on(upgraded: Database) -> None:
    with upgraded.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)
        later = NOW + 3 * HOUR
        again = a_report(tx, by=femi, read_at=later, idempotency_key="later")
        seen = wall(tx, agency_id=femi.agency_id, now=NOW + 2 * DAY)

    assert again.read_at == later
    worst = [one.mark.tally.worst for one in seen.devices if one.mark.tally]
    assert worst
    assert Severity.UNSAFE not in worst
