from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, func, select

from app.actions.devices import add_device
from app.actions.reports import record_report
from app.domain.comparison import Direction
from app.domain.device_reports import CouldNotRead, FoundOff, FoundOn, NotRead, StateRead
from app.domain.errors import Conflict, NotAllowed, NotFound, Refused
from app.domain.finding_life import FindingKind, FindingStatus
from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus
from app.domain.people import Role
from app.lookups.findings import FindingPage, findings
from app.lookups.fleet import DevicePage, device, wall
from app.storage.database import Database
from app.storage.finding_rows import FindingRow
from app.storage.reports import ReportRow
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_new_report,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.ledgers import bodies

LOOSER, TIGHTER = Direction.LOOSER, Direction.TIGHTER
UNSAFE, OFF_PROTOCOL, NOTE = Severity.UNSAFE, Severity.OFF_PROTOCOL, Severity.NOTE
LATE_HIGH = as_signed(heart_rate_high=limit(200))


def ready(tx: Session) -> None:
    a_signed_revision(tx)
    a_device(tx)


def page(tx: Session, **instead: Any) -> DevicePage:
    wanted: dict[str, Any] = {
        "agency_id": a_person(tx).agency_id,
        "tag": "boat-3",
        "now": NOW + DAY,
    }
    return device(tx, **(wanted | instead))


def opened(tx: Session) -> list[FindingPage]:
    return findings(tx, agency_id=a_person(tx).agency_id, now=NOW)


def astray(tx: Session) -> list[tuple[str, Severity]]:
    return [(one.finding.alarm, one.finding.severity) for one in opened(tx)]


def worst(tx: Session) -> Severity | None:
    """As its readings say."""
    known = page(tx).now
    assert known is not None
    return known.tally.worst


def on_wall(tx: Session) -> DeviceStatus:
    agency_id = a_person(tx).agency_id
    found = wall(tx, agency_id=agency_id, now=NOW + DAY)
    [counted] = found.counts
    [listed] = found.devices
    assert counted.status is listed.status
    return counted.status


def every_preset_read(tx: Session, at: datetime) -> None:
    for preset in ("neonate", "infant", PRESET, "school", "adult"):
        a_report(tx, as_signed(preset), preset=preset, read_at=at)


class TestJudging:
    def test_what_conforms_has_no_deviation(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            report = a_report(tx)

            assert report.verdicts == {}
            assert report.revision == 1
            assert report.readings == as_signed()
            assert opened(tx) == []

    def test_looser_beyond_a_danger_bound_is_unsafe_and_opens_a_finding(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            report = a_report(tx, LATE_HIGH)

            assert report.verdicts == {"heart-rate-high": (LOOSER, UNSAFE)}
            (found,) = opened(tx)
            assert (found.finding.device, found.finding.preset) == ("boat-3", PRESET)
            assert found.finding.status is FindingStatus.OPEN
            assert found.line.found == limit(200)
            assert getattr(found.line.signed, "limit", None) == 170
            assert page(tx).status is DeviceStatus.UNSAFE

    def test_tighter_is_off_protocol(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            report = a_report(tx, as_signed(heart_rate_high=limit(150)))

            assert report.verdicts == {"heart-rate-high": (TIGHTER, OFF_PROTOCOL)}
            assert page(tx).status is DeviceStatus.DIFFERS

    def test_what_could_not_be_read_is_noted_but_opens_nothing(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            report = a_report(tx, as_signed(spo2_low=CouldNotRead("display cracked")))

            assert report.verdicts == {"spo2-low": (Direction.UNREAD, NOTE)}
            assert opened(tx) == []
            assert page(tx).status is DeviceStatus.NOT_JUDGED

    def test_it_is_judged_by_the_revision_in_force_when_it_was_read(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            higher = a_document({"heart-rate-high": 180})
            a_signed_revision(tx, document=higher, now=NOW + DAY)
            held = as_signed(heart_rate_high=limit(180))
            before = a_report(tx, held, read_at=NOW + DAY - MINUTE)
            after = a_report(tx, held, read_at=NOW + DAY)

        assert (before.revision, after.revision) == (1, 2)
        assert list(before.verdicts) == ["heart-rate-high"]
        assert after.verdicts == {}

    def test_before_any_policy_it_is_kept_but_not_judged(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            report = a_report(tx, LATE_HIGH, read_at=NOW - MINUTE)

            assert (report.revision, report.verdicts) == (None, {})
            assert opened(tx) == []
            assert page(tx).status is DeviceStatus.NOT_JUDGED

    def test_a_reading_in_use_is_a_finding_about_use_and_says_nothing_of_what_it_holds(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            report = a_report(tx, LATE_HIGH, state_read=StateRead.IN_USE)

            assert list(report.verdicts) == ["heart-rate-high"]
            (found,) = opened(tx)
            assert found.finding.kind is FindingKind.USE
            assert page(tx).now is None
            a_report(tx, LATE_HIGH, state_read=StateRead.IN_USE, read_at=NOW + HOUR)
            assert len(opened(tx)) == 1


class TestTheDeviceNow:
    def test_it_holds_when_every_preset_was_read_and_conforms(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            for preset in ("neonate", "infant", PRESET, "school"):
                a_report(tx, as_signed(preset), preset=preset)
            before = page(tx)
            a_report(tx, as_signed("adult"), preset="adult")
            after = page(tx)

        assert before.status is DeviceStatus.NOT_JUDGED
        assert after.status is DeviceStatus.HOLDS
        assert after.now is not None
        assert len(after.now.readings) == 5 * len(as_signed())

    def test_an_alarm_left_out_keeps_it_from_holding(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            for preset in ("neonate", "infant", "school", "adult"):
                a_report(tx, as_signed(preset), preset=preset)
            a_report(tx, as_signed(apnoea=NotRead()))

            assert page(tx).status is DeviceStatus.NOT_JUDGED

    @pytest.mark.parametrize(
        "partial", [{"spo2-low": limit(90)}, as_signed(heart_rate_high=NotRead())]
    )
    def test_a_reading_that_does_not_look_at_what_was_unsafe_does_not_hide_it(
        self, database: Database, partial: dict[str, Any]
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, LATE_HIGH)
            a_report(tx, partial, read_at=NOW + HOUR)
            a_report(tx, partial, read_at=NOW + 2 * HOUR)
            assert page(tx).status is DeviceStatus.UNSAFE

            a_report(tx, {"heart-rate-high": limit(170)}, read_at=NOW + 3 * HOUR)
            assert worst(tx) is not Severity.UNSAFE
            a_report(tx, partial, read_at=NOW + 4 * HOUR)
            assert worst(tx) is not Severity.UNSAFE

    def test_it_never_holds_while_an_unsafe_finding_is_not_verified(
        self, database: Database
    ) -> None:
        """A file reads it as signed, and nobody has said that it was put right, or looked."""
        with database.writing() as tx:
            ready(tx)
            every_preset_read(tx, NOW)
            assert page(tx).status is DeviceStatus.HOLDS
            a_report(tx, LATE_HIGH, read_at=NOW + HOUR)
            every_preset_read(tx, NOW + 2 * HOUR)

            assert worst(tx) is None
            assert page(tx).status is DeviceStatus.UNSAFE
            assert on_wall(tx) is DeviceStatus.UNSAFE

    def test_an_older_report_that_comes_late_tells_what_no_later_one_looked_at(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, {"spo2-low": limit(90)}, read_at=NOW + 2 * HOUR)

            strayed = {"heart-rate-high": limit(200), "spo2-low": limit(60)}
            a_report(tx, strayed, read_at=NOW + HOUR)

            assert astray(tx) == [("heart-rate-high", Severity.UNSAFE)]
            assert worst(tx) is Severity.UNSAFE
            a_report(tx, {"heart-rate-high": limit(170)}, read_at=NOW + 90 * MINUTE)
            assert worst(tx) is None  # that one was read after it
            assert page(tx).status is DeviceStatus.UNSAFE  # and nobody has verified it

    def test_what_comes_late_and_was_looked_at_since_opens_nothing(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, {"heart-rate-high": limit(170)}, read_at=NOW + 2 * HOUR)
            a_report(tx, {"spo2-low": limit(90)}, read_at=NOW + 3 * HOUR)

            a_report(tx, LATE_HIGH, read_at=NOW + HOUR)

            assert opened(tx) == []
            assert worst(tx) is None

    def test_what_was_unsafe_in_one_state_says_nothing_of_another(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, LATE_HIGH)
            after: dict[str, Any] = {"state_read": StateRead.AFTER_CATEGORY, "minutes_off": None}
            a_report(tx, {"spo2-low": limit(90)}, read_at=NOW + HOUR, **after)
            a_report(tx, read_at=NOW + 2 * HOUR)

            assert worst(tx) is not Severity.UNSAFE

    def test_nothing_holds_for_ever(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            for preset in ("neonate", "infant", PRESET, "school", "adult"):
                a_report(tx, as_signed(preset), preset=preset)

            assert page(tx, now=NOW + 90 * DAY).status is DeviceStatus.HOLDS
            assert page(tx, now=NOW + 90 * DAY + MINUTE).status is DeviceStatus.NOT_JUDGED

    def test_the_latest_reading_of_a_preset_counts_whenever_it_arrives(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, read_at=NOW + HOUR)
            late = a_report(tx, LATE_HIGH, read_at=NOW)
            found = page(tx)

            assert found.now is not None
            assert found.now.readings[PRESET, "heart-rate-high"] == limit(170)
            assert found.now.tally.worst is None
            assert opened(tx) == []
            assert late.id in [one.report.id for one in found.reports]

    @pytest.mark.parametrize(("minutes_off", "counts"), [(4, False), (5, True), (None, True)])
    def test_switched_on_after_too_short_a_pause_it_tells_nothing_new(
        self, sqlite_database: Database, minutes_off: int | None, counts: bool
    ) -> None:
        keeping = a_document() | {"models": {"dunlin": {"retention_min": 4}}}
        with sqlite_database.writing() as tx:
            a_signed_revision(tx, document=keeping)
            a_device(tx)
            report = a_report(tx, LATE_HIGH, minutes_off=minutes_off)

            assert list(report.verdicts) == ["heart-rate-high"]
            assert (page(tx).now is not None) is counts
            assert len(opened(tx)) == int(counts)


class TestFindings:
    def test_the_same_deviation_again_refreshes_the_open_finding(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            first = a_report(tx, LATE_HIGH)
            second = a_report(tx, as_signed(heart_rate_high=limit(150)), read_at=NOW + HOUR)

            (found,) = opened(tx)
            assert (found.finding.opened_by, found.finding.report) == (first.id, second.id)
            assert (found.finding.direction, found.finding.severity) == (TIGHTER, OFF_PROTOCOL)
            assert found.line.found == limit(150)

    def test_every_alarm_and_preset_has_its_own(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, as_signed(heart_rate_high=limit(200), spo2_low=FoundOff()))
            a_report(tx, as_signed("infant", heart_rate_low=limit(60)), preset="infant")

            assert {(f.finding.preset, f.finding.alarm) for f in opened(tx)} == {
                (PRESET, "heart-rate-high"),
                (PRESET, "spo2-low"),
                ("infant", "heart-rate-low"),
            }


class TestIdempotency:
    def test_the_same_report_twice_changes_nothing(self, database: Database) -> None:
        report = a_new_report(LATE_HIGH)
        with database.writing() as tx:
            ready(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)
            first = record_report(tx, report=report, by=femi, now=NOW)
            entries = len(bodies(tx))
            second = record_report(tx, report=report, by=femi, now=NOW + HOUR)

            assert second == first
            assert len(bodies(tx)) == entries
            assert tx.exec(select(func.count()).select_from(ReportRow)).one() == 1
            assert tx.exec(select(func.count()).select_from(FindingRow)).one() == 1

    def test_another_report_under_the_same_key_is_refused(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, idempotency_key="once")

            with pytest.raises(Conflict, match="idempotency key"):
                a_report(tx, LATE_HIGH, idempotency_key="once")

    def test_the_same_preset_at_the_same_time_is_refused_under_another_key(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            first = a_report(tx)

            with pytest.raises(Conflict) as conflict:
                a_report(tx, LATE_HIGH)

        assert conflict.value.theirs == first

    def test_two_agencies_may_use_the_same_key(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            a_report(tx, idempotency_key="once")
            outsider = olu(tx)
            add_device(tx, tag="boat-3", model="dunlin", station="X", by=outsider, now=NOW)
            theirs = a_report(tx, idempotency_key="once", by=outsider)

        assert theirs.revision is None


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("read_at", {"read_at": NOW + MINUTE}),
        ("read_at", {"read_at": NOW.replace(tzinfo=None)}),
        ("minutes_off", {"minutes_off": -1}),
        ("readings", {"readings": {}}),
        ("readings", {"readings": {"spo2-low": NotRead()}}),
        ("heart-rate", {"readings": {"heart-rate": limit(90)}}),
        ("asystole", {"readings": {"asystole": limit(5)}}),
        ("spo2-low", {"readings": {"spo2-low": CouldNotRead(" ")}}),
        ("preset", {"preset": "CHILD"}),
        ("preset", {"preset": " "}),
        ("idempotency_key", {"idempotency_key": ""}),
        ("software", {"software": "3.2\x00"}),
    ],
)
def test_a_bad_report_is_refused_by_its_place(
    database: Database, column: str, instead: dict[str, Any]
) -> None:
    with database.writing() as tx:
        ready(tx)
        femi = a_person(tx, Role.FLEET_MANAGER)

        with pytest.raises(Refused) as refused:
            record_report(tx, report=a_new_report(**instead), by=femi, now=NOW)

    assert [fault.column for fault in refused.value.faults] == [column]


def test_what_is_not_finite_is_no_limit(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)

        with pytest.raises(Refused):
            a_report(tx, as_signed(heart_rate_high=FoundOn(Decimal("NaN"))))


def test_the_ledger_tells_what_was_found(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        report = a_report(tx, LATE_HIGH)

        body = bodies(tx)[-1]
    assert (body["did"], body["by"]) == ("read a device", "femi")
    assert body["about"] == {
        "report": report.id,
        "device": "boat-3",
        "preset": PRESET,
        "state_read": "power-on",
        "read_at": NOW.isoformat(),
        "revision": 1,
        "deviations": {"heart-rate-high": ["looser", "unsafe"]},
    }


def test_an_outsider_finds_no_device(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)

        with pytest.raises(NotFound):
            a_report(tx, by=olu(tx))


@pytest.mark.parametrize(
    ("role", "allowed"),
    [
        (Role.FLEET_MANAGER, True),
        (Role.TECHNICIAN, True),
        (Role.CREW, True),
        (Role.AUTHOR, False),
        (Role.MEDICAL_DIRECTOR, False),
        (Role.ADMINISTRATOR, False),
    ],
)
def test_who_reads_devices(sqlite_database: Database, role: Role, allowed: bool) -> None:
    with sqlite_database.writing() as tx:
        ready(tx)
        somebody = a_person(tx, role)

        if allowed:
            assert a_report(tx, by=somebody).reader == somebody.name
        else:
            with pytest.raises(NotAllowed):
                a_report(tx, by=somebody)
