import pytest
from sqlmodel import Session

from app.actions.findings import move_finding
from app.domain.errors import NotFound
from app.domain.finding_life import FindingStatus
from app.domain.findings import Severity
from app.domain.people import Role
from app.lookups.findings import FindingPage, finding, findings
from app.storage.database import Database
from tests.builders import (
    HOUR,
    MINUTE,
    NOW,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.statements import counted

UNSAFE, TIGHTER = as_signed(heart_rate_high=limit(200)), as_signed(heart_rate_high=limit(150))


def two_findings(tx: Session) -> int:
    """Off-protocol on air-1, then unsafe on boat-3; the agency's id."""
    a_signed_revision(tx)
    for tag, readings in (("air-1", TIGHTER), ("boat-3", UNSAFE)):
        a_device(tx, tag)
        a_report(tx, readings, device=tag)
    return a_person(tx).agency_id


def devices(pages: list[FindingPage]) -> list[str]:
    return [page.finding.device for page in pages]


def test_the_gravest_stands_first(database: Database) -> None:
    with database.writing() as tx:
        agency = two_findings(tx)

        assert devices(findings(tx, agency_id=agency, now=NOW)) == ["boat-3", "air-1"]


def test_they_can_be_chosen_by_severity_device_and_status(database: Database) -> None:
    with database.writing() as tx:
        agency = two_findings(tx)
        gravest = findings(tx, agency_id=agency, now=NOW)[0].finding
        move_finding(
            tx,
            finding_id=gravest.id,
            to=FindingStatus.CONTAINED,
            by=a_person(tx, Role.FLEET_MANAGER),
            now=NOW,
            note="swapped",
        )

        off = findings(tx, agency_id=agency, now=NOW, severities=[Severity.OFF_PROTOCOL])
        on_boat = findings(tx, agency_id=agency, now=NOW, device="boat-3")
        still_open = findings(tx, agency_id=agency, now=NOW, statuses=[FindingStatus.OPEN])
        closed = findings(tx, agency_id=agency, now=NOW, statuses=[FindingStatus.CLOSED])

    assert devices(off) == ["air-1"]
    assert devices(on_boat) == ["boat-3"]
    assert devices(still_open) == ["air-1"]
    assert closed == []


def test_what_is_late_is_told(database: Database) -> None:
    with database.writing() as tx:
        agency = two_findings(tx)
        number = findings(tx, agency_id=agency, now=NOW)[0].finding.id
        in_time = finding(tx, agency_id=agency, finding_id=number, now=NOW + HOUR)
        late = finding(tx, agency_id=agency, finding_id=number, now=NOW + HOUR + MINUTE)

    assert in_time.finding.due_at == NOW + HOUR
    assert (in_time.overdue, late.overdue) == (False, True)


def test_the_list_costs_the_same_for_one_finding_and_for_many(
    sqlite_database: Database,
) -> None:
    costs = []
    for tags in (["boat-3"], [f"van-{number}" for number in range(15)]):
        with sqlite_database.writing() as tx:
            if tags == ["boat-3"]:
                a_signed_revision(tx)
            for tag in tags:
                a_device(tx, tag)
                a_report(tx, UNSAFE, device=tag)
            agency = a_person(tx).agency_id
        with sqlite_database.reading() as tx, counted(sqlite_database) as statements:
            found = findings(tx, agency_id=agency, now=NOW)
        costs.append((len(found), len(statements)))

    assert [found for found, _ in costs] == [1, 16]
    assert costs[0][1] == costs[1][1]


def test_an_outsider_sees_nothing(database: Database) -> None:
    with database.writing() as tx:
        agency = two_findings(tx)
        number = findings(tx, agency_id=agency, now=NOW)[0].finding.id
        outsider = olu(tx).agency_id

        assert findings(tx, agency_id=outsider, now=NOW) == []
        with pytest.raises(NotFound):
            finding(tx, agency_id=outsider, finding_id=number, now=NOW)
