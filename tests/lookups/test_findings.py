from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import update
from sqlmodel import Session

from app.actions.finding_words import accept_finding, assign_finding
from app.actions.findings import move_finding
from app.actions.quarantines import place_in_quarantine
from app.domain.device_reports import StateRead
from app.domain.errors import NotFound
from app.domain.finding_filters import FindingFilter
from app.domain.finding_life import FindingStatus
from app.domain.findings import Severity
from app.domain.people import Role
from app.lookups.findings import FindingPage, finding, finding_list, findings
from app.storage.database import Database
from app.storage.finding_lists import FindingCounts
from app.storage.finding_rows import FindingRow
from tests.actions.test_findings import a_finding
from tests.builders import (
    DAY,
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

SCHOOL = as_signed("school")
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


def chosen(tx: Session, now: datetime = NOW, **asked: Any) -> list[str]:
    found = finding_list(
        tx, agency_id=a_person(tx).agency_id, wanted=FindingFilter(**asked), now=now
    )
    assert found.counts.total == len(found.findings)
    return devices(list(found.findings))


class TestChosen:
    def test_by_station_model_and_alarm(self, database: Database) -> None:
        with database.writing() as tx:
            two_findings(tx)

            assert chosen(tx, station="North") == ["boat-3", "air-1"]
            assert chosen(tx, station="South") == []
            assert chosen(tx, model="dunlin", device="air-1") == ["air-1"]
            assert chosen(tx, alarm="heart-rate-high") == ["boat-3", "air-1"]
            assert chosen(tx, alarm="heart-rate-low") == []

    def test_an_alarm_is_found_with_its_deep_line(self, database: Database) -> None:
        with database.writing() as tx:
            two_findings(tx)
            tx.exec(update(FindingRow).values(alarm="heart-rate-high.deep"))

            assert chosen(tx, alarm="heart-rate-high") == ["boat-3", "air-1"]

    @pytest.mark.parametrize(
        ("later", "overdue"),
        [
            (HOUR, []),
            (HOUR + MINUTE, ["boat-3"]),
            (30 * DAY, ["boat-3"]),
            (30 * DAY + MINUTE, ["boat-3", "air-1"]),
        ],
    )
    def test_what_is_overdue(
        self, database: Database, later: timedelta, overdue: list[str]
    ) -> None:
        with database.writing() as tx:
            two_findings(tx)

            assert chosen(tx, NOW + later, overdue=True) == overdue

    def test_what_is_accepted_is_due_after_it_ends(self, database: Database) -> None:
        with database.writing() as tx:
            two_findings(tx)
            until = (NOW + DAY).date()
            accept_finding(tx, finding_id=2, reason="x", until=until, by=a_person(tx), now=NOW)
            ends = NOW.replace(hour=0) + 2 * DAY

            assert chosen(tx, ends - MINUTE, accepted=True) == ["boat-3"]
            assert chosen(tx, ends, accepted=True) == []
            assert chosen(tx, ends, overdue=True) == []
            assert chosen(tx, ends + MINUTE, overdue=True) == ["boat-3"]

    def test_by_owner_and_quarantine(self, database: Database) -> None:
        with database.writing() as tx:
            two_findings(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)
            assign_finding(tx, finding_id=1, to="femi", by=femi, now=NOW)
            place_in_quarantine(tx, finding_id=2, reason="x", by=femi, now=NOW)

            assert chosen(tx, owner=femi.id) == ["air-1"]
            assert chosen(tx, owner=a_person(tx).id) == []
            assert chosen(tx, quarantined=True) == ["boat-3"]

    def test_the_counts_tell_of_all_that_was_asked_for(self, database: Database) -> None:
        with database.writing() as tx:
            agency = two_findings(tx)
            found = finding_list(tx, agency_id=agency, wanted=FindingFilter(), now=NOW + 2 * HOUR)

        assert found.counts == FindingCounts(total=2, unsafe=1, overdue=1)

    def test_a_page_beyond_the_last_is_the_last(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            agency = two_findings(tx)
            found = finding_list(tx, agency_id=agency, wanted=FindingFilter(), now=NOW, page=7)

        assert (found.page, found.pages, len(found.findings)) == (1, 1, 2)


class TestLookingAgain:
    """Closed three hours after NOW."""

    CLOSED = FindingFilter(statuses=(FindingStatus.CLOSED,), look_again=True)

    def missing(self, tx: Session, now: datetime) -> int:
        agency = a_person(tx).agency_id
        return finding_list(tx, agency_id=agency, wanted=self.CLOSED, now=now).counts.total

    @pytest.mark.parametrize(
        ("read", "later", "missing"),
        [
            ([], 30 * DAY - MINUTE, 0),
            ([], 30 * DAY, 1),
            ([30 * DAY - MINUTE], 30 * DAY, 1),
            ([30 * DAY], 31 * DAY, 0),
            ([30 * DAY], 90 * DAY - MINUTE, 0),
            ([30 * DAY], 90 * DAY, 1),
            ([90 * DAY], 91 * DAY, 0),
        ],
    )
    def test_a_look_is_due_after_30_and_90_days(
        self, database: Database, read: list[timedelta], later: timedelta, missing: int
    ) -> None:
        with database.writing() as tx:
            a_finding(tx, FindingStatus.CLOSED)
            for passed in read:
                a_report(tx, read_at=NOW + 3 * HOUR + passed)

            assert self.missing(tx, NOW + 3 * HOUR + later) == missing

    @pytest.mark.parametrize(
        "instead", [{"state_read": StateRead.IN_USE}, {"preset": "school", "readings": SCHOOL}]
    )
    def test_only_a_look_at_that_preset_counts(
        self, sqlite_database: Database, instead: dict[str, Any]
    ) -> None:
        with sqlite_database.writing() as tx:
            a_finding(tx, FindingStatus.CLOSED)
            a_report(tx, read_at=NOW + 40 * DAY, **instead)

            assert self.missing(tx, NOW + 41 * DAY) == 1
