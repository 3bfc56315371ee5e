from datetime import timedelta

from sqlmodel import Session

from app.domain.finding_life import FindingStatus
from app.domain.known_devices import DeviceStatus
from app.lookups.measures import MeasuresPage, measures
from app.storage.database import Database
from tests.actions.test_findings import a_finding
from tests.builders import (
    DAY,
    NOW,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)

STRAYED = as_signed(heart_rate_high=limit(200))


def seen(tx: Session, *, later: timedelta = DAY) -> MeasuresPage:
    agency = a_person(tx).agency_id
    return measures(tx, agency_id=agency, now=NOW + later, since=NOW - 30 * DAY)


def a_fleet(tx: Session) -> None:
    """One unsafe, one of whose presets one was read, one never read."""
    a_signed_revision(tx)
    for tag in ("air-2", "boat-3", "van-1"):
        a_device(tx, tag)
    a_report(tx, STRAYED)
    a_report(tx, device="van-1")


def test_what_is_not_judged_counts_on_neither_side(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx)
        page = seen(tx)

    assert page.fleet == 3
    assert page.statuses[DeviceStatus.NOT_JUDGED] == 2
    assert (page.holding.found, page.holding.of) == (0, 1)


def test_the_alarm_that_strays_most_is_named(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx)
        page = seen(tx)

    assert [(one.alarm, one.devices, one.looser) for one in page.worst] == [
        ("heart-rate-high", 1, 1)
    ]
    assert (page.looser, page.tighter) == (1, 0)


def test_overdue_counts_the_never_read(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx)
        early, late = seen(tx), seen(tx, later=91 * DAY)

    assert (early.overdue, early.never, early.oldest) == (1, 1, None)
    assert (late.overdue, late.never) == (3, 1)
    assert late.oldest is not None


def test_times_run_from_the_opening_of_each_finding(database: Database) -> None:
    with database.writing() as tx:
        a_finding(tx, FindingStatus.CLOSED)
        unsafe = seen(tx).mending[0]

    assert (unsafe.contained.count, unsafe.contained.done) == (1, 1)
    assert unsafe.verified.middle is not None


def test_a_finding_opened_before_the_period_is_left_out(database: Database) -> None:
    with database.writing() as tx:
        a_finding(tx, FindingStatus.OPEN)
        agency = a_person(tx).agency_id
        page = measures(tx, agency_id=agency, now=NOW + 60 * DAY, since=NOW + 30 * DAY)

    assert page.mending[0].contained.count == 0


def test_a_month_counts_devices_and_not_readings(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx)
        a_report(tx, STRAYED, read_at=NOW + DAY)
        page = seen(tx, later=40 * DAY)

    [month] = [point for point in page.months_holding.points if point.of]
    assert (month.label, month.found, month.of) == ("2026-03", 1, 2)
    assert [point.found for point in page.months_unsafe.points if point.of] == [1]


def test_another_agency_has_its_own_figures(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx)
        page = measures(tx, agency_id=olu(tx).agency_id, now=NOW, since=NOW - DAY)

    assert (page.fleet, page.worst, page.months_holding.points) == (0, (), ())
