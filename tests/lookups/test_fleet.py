from datetime import datetime

import pytest
from sqlmodel import Session

from app.domain.comparison import Direction
from app.domain.device_reports import NotRead, Reading, StateRead
from app.domain.errors import NotFound
from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus
from app.domain.people import Role
from app.lookups.fleet import Wall, device, report, wall
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.statements import counted

STRAYED = as_signed(heart_rate_high=limit(200))


def see_wall(tx: Session) -> Wall:
    return wall(tx, agency_id=a_person(tx).agency_id, now=NOW + DAY)


class TestTheWall:
    def test_it_shows_every_device_what_needs_somebody_first(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            for tag in ("van-1", "boat-3", "air-2"):
                a_device(tx, tag)
            a_report(tx, STRAYED)
            seen = see_wall(tx)

        assert [(one.mark.device.tag, one.status) for one in seen.devices] == [
            ("boat-3", DeviceStatus.UNSAFE),
            ("air-2", DeviceStatus.NOT_JUDGED),
            ("van-1", DeviceStatus.NOT_JUDGED),
        ]
        mark = seen.devices[0].mark
        assert mark.tally is not None
        assert (mark.tally.looser, mark.tally.tighter, mark.tally.missing) == (1, 0, 0)
        assert (mark.presets_read, mark.presets_offered, mark.revision) == (1, 5, 1)
        assert mark.latest_read_at == mark.oldest_read_at == NOW

    def test_the_device_page_says_the_same_as_the_wall(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            boat = a_device(tx)
            a_report(tx, STRAYED)
            a_report(tx, as_signed("infant"), preset="infant", read_at=NOW + HOUR)
            seen = see_wall(tx).devices[0]
            page = device(tx, agency_id=a_person(tx).agency_id, tag=boat.tag, now=NOW + DAY)

        assert page.now is not None
        assert page.now.mark(boat, unsafe_finding=True) == seen.mark
        assert page.status is seen.status

    def test_a_line_for_every_revision_that_came_into_force(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_signed_revision(tx, in_force_at=NOW + DAY)
            a_signed_revision(tx, in_force_at=NOW + 2 * DAY)

            assert [(one.number, one.at) for one in see_wall(tx).starts] == [
                (1, NOW),
                (2, NOW + DAY),
            ]

    def test_it_costs_the_same_for_one_device_and_for_many(self, sqlite_database: Database) -> None:
        costs = []
        for tags in (["boat-3"], [f"van-{number}" for number in range(20)]):
            with sqlite_database.writing() as tx:
                if tags == ["boat-3"]:
                    a_signed_revision(tx)
                for tag in tags:
                    a_device(tx, tag)
                    a_report(tx, STRAYED, device=tag)
                agency = a_person(tx).agency_id
            with sqlite_database.reading() as tx, counted(sqlite_database) as statements:
                seen = wall(tx, agency_id=agency, now=NOW)
            costs.append((len(seen.devices), len(statements)))

        assert costs == [(1, 6), (21, 6)]


EVERY = ("neonate", "infant", PRESET, "school", "adult")
NEW_LIMITS = {"heart-rate-low": 80, "heart-rate-high": 165}


def two_revisions(tx: Session) -> None:
    """The second begins a day after the first, with two other limits for one category."""
    a_signed_revision(tx)
    a_signed_revision(tx, document=a_document(NEW_LIMITS), now=NOW + DAY)


def whole(tx: Session, tag: str, *, read_at: datetime, **instead: Reading) -> None:
    a_device(tx, tag)
    for preset in EVERY:
        found = as_signed(preset, **(instead if preset == PRESET else {}))
        a_report(tx, found, device=tag, preset=preset, read_at=read_at)


def on_wall(tx: Session, now: datetime) -> dict[str, tuple[DeviceStatus, str]]:
    seen = wall(tx, agency_id=a_person(tx).agency_id, now=now)
    return {
        one.mark.device.tag: (one.status, one.gap.words(now) if one.gap else "")
        for one in seen.devices
    }


class TestTheChangeover:
    def test_the_gap_to_today_stands_beside_the_judgement_of_then(self, database: Database) -> None:
        new = {name.replace("-", "_"): limit(value) for name, value in NEW_LIMITS.items()}
        with database.writing() as tx:
            two_revisions(tx)
            whole(tx, "air-1", read_at=NOW)  # before the second began
            whole(tx, "boat-3", read_at=NOW + DAY)  # after it
            whole(tx, "boat-4", read_at=NOW + DAY, **new)
            whole(tx, "boat-5", read_at=NOW + DAY, heart_rate_low=limit(80))
            whole(tx, "van-1", read_at=NOW + DAY, heart_rate_high=limit(200))
            soon = on_wall(tx, NOW + 30 * DAY)
            late = on_wall(tx, NOW + 31 * DAY)

        not_yet = "not yet reached by revision 2: holds revision 1"
        assert soon == {
            "air-1": (DeviceStatus.HOLDS, not_yet),
            "boat-3": (DeviceStatus.DIFFERS, not_yet),
            "boat-4": (DeviceStatus.HOLDS, ""),
            "boat-5": (DeviceStatus.DIFFERS, "differs from revision 2"),
            "van-1": (DeviceStatus.UNSAFE, ""),
        }
        assert late["boat-3"] == (
            DeviceStatus.DIFFERS,
            "missed by the changeover to revision 2: holds revision 1",
        )

    def test_the_device_page_shows_the_report_beside_both(self, database: Database) -> None:
        with database.writing() as tx:
            two_revisions(tx)
            whole(tx, "boat-3", read_at=NOW)
            agency = a_person(tx).agency_id
            page = device(tx, agency_id=agency, tag="boat-3", now=NOW + 2 * DAY)

        assert (page.status, page.gap and page.gap.as_in) == (DeviceStatus.HOLDS, 1)
        (changed,) = (one for one in page.presets if one.preset == PRESET)
        assert changed.latest is not None
        assert changed.today is not None
        line = changed.latest.line("heart-rate-high")
        assert (line.deviation, getattr(line.signed, "limit", None)) == (None, 170)
        line = changed.today.line("heart-rate-high")
        assert line.deviation is not None
        assert line.deviation.direction is Direction.LOOSER
        assert line.hint == "all 2 limits that differ are as in revision 1"

    def test_a_reading_of_today_has_no_second_side(self, database: Database) -> None:
        with database.writing() as tx:
            two_revisions(tx)
            whole(tx, "boat-3", read_at=NOW + DAY)
            agency = a_person(tx).agency_id
            page = device(tx, agency_id=agency, tag="boat-3", now=NOW + 2 * DAY)

        assert [one.today for one in page.presets] == [None] * 5
        (changed,) = (one for one in page.presets if one.preset == PRESET)
        assert changed.latest is not None
        assert (
            changed.latest.line("heart-rate-low").hint
            == "all 2 limits that differ are as in revision 1"
        )

    def test_the_wall_costs_the_same_for_many_devices(self, sqlite_database: Database) -> None:
        costs = []
        for tags in (["boat-3"], [f"van-{number}" for number in range(8)]):
            with sqlite_database.writing() as tx:
                if tags == ["boat-3"]:
                    two_revisions(tx)
                for tag in tags:
                    whole(tx, tag, read_at=NOW)
                agency = a_person(tx).agency_id
            with sqlite_database.reading() as tx, counted(sqlite_database) as statements:
                seen = wall(tx, agency_id=agency, now=NOW + 2 * DAY)
            costs.append((sum(one.gap is not None for one in seen.devices), len(statements)))

        assert costs == [(1, 9), (9, 9)]

    def test_without_an_older_revision_nothing_has_to_reach(self, database: Database) -> None:
        with database.writing() as tx:
            a_device(tx)
            a_report(tx, STRAYED, read_at=NOW - DAY)
            a_signed_revision(tx)
            agency = a_person(tx).agency_id
            page = device(tx, agency_id=agency, tag="boat-3", now=NOW + DAY)

        assert page.gap is None
        assert page.presets[2].today is None


class TestTheDevicePage:
    def test_signed_stands_beside_found(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, STRAYED)
            page = device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW)

        line = page.reports[0].line("heart-rate-high")
        assert getattr(line.signed, "limit", None) == 170
        assert line.found == limit(200)
        assert line.deviation is not None
        assert line.deviation.signed is line.signed
        assert line.deviation.direction is Direction.LOOSER
        assert line.deviation.severity is Severity.UNSAFE
        assert [(found.preset, found.alarm) for found in page.findings] == [
            (PRESET, "heart-rate-high")
        ]

    def test_a_hint_stands_with_the_deviation(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            page = a_report(tx, as_signed("school"))
            found = report(tx, agency_id=a_person(tx).agency_id, report_id=page.id)

        hint = found.line("heart-rate-high").hint
        assert hint is not None
        assert "school" in hint

    def test_what_was_not_read_is_told(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            made = a_report(tx, {"heart-rate-low": limit(75)})
            found = report(tx, agency_id=a_person(tx).agency_id, report_id=made.id)

        assert found.line("spo2-low").found == NotRead()
        assert found.line("spo2-low").deviation is None

    def test_a_report_stands_beside_what_was_signed_when_it_was_read(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            made = a_report(tx, STRAYED)
            a_signed_revision(tx, document=a_document({"heart-rate-high": 180}), now=NOW + DAY)
            page = device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW + DAY)

        assert page.in_force == 2
        assert page.reports[0].report.id == made.id
        assert getattr(page.reports[0].line("heart-rate-high").signed, "limit", None) == 170

    def test_every_preset_shows_its_latest_reading_that_counts(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx)
            latest = a_report(tx, STRAYED, read_at=NOW + HOUR)
            a_report(tx, read_at=NOW + 2 * HOUR, state_read=StateRead.IN_USE)
            page = device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW + DAY)

        found = {one.preset: one.latest and one.latest.report.id for one in page.presets}
        assert found == {
            "neonate": None,
            "infant": None,
            PRESET: latest.id,
            "school": None,
            "adult": None,
        }
        assert len(page.reports) == 3

    def test_without_a_policy_readings_stand_alone(self, database: Database) -> None:
        with database.writing() as tx:
            a_device(tx)
            a_report(tx, STRAYED)
            page = device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW)

        assert page.in_force is None
        assert page.reports[0].rendered is None
        assert page.reports[0].line("heart-rate-high").found == limit(200)
        assert page.status is DeviceStatus.NOT_JUDGED

    def test_it_costs_the_same_for_one_report_and_for_many(self, sqlite_database: Database) -> None:
        costs = []
        for hours in (range(1), range(1, 30)):
            with sqlite_database.writing() as tx:
                if hours == range(1):
                    a_signed_revision(tx)
                    a_device(tx)
                for hour in hours:
                    a_report(tx, STRAYED, read_at=NOW + hour * HOUR)
                agency = a_person(tx).agency_id
            with sqlite_database.reading() as tx, counted(sqlite_database) as statements:
                page = device(tx, agency_id=agency, tag="boat-3", now=NOW + 2 * DAY)
            costs.append((len(page.reports), len(statements)))

        assert [reports for reports, _ in costs] == [1, 20]
        assert costs[0][1] == costs[1][1]


def test_an_outsider_sees_nothing(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        made = a_report(tx, STRAYED)
        outsider = olu(tx).agency_id

        assert wall(tx, agency_id=outsider, now=NOW).devices == ()
        assert wall(tx, agency_id=outsider, now=NOW).starts == ()
        with pytest.raises(NotFound):
            device(tx, agency_id=outsider, tag="boat-3", now=NOW)
        with pytest.raises(NotFound):
            report(tx, agency_id=outsider, report_id=made.id)


def test_reads_need_no_writing(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx, STRAYED)
        agency = a_person(tx, Role.FLEET_MANAGER).agency_id

    with database.reading() as tx:
        assert len(wall(tx, agency_id=agency, now=NOW).devices) == 1
        assert device(tx, agency_id=agency, tag="boat-3", now=NOW).now is not None


class TestStatesAreJudgedApart:
    def test_a_good_reading_of_one_state_hides_no_bad_one_of_the_other(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, STRAYED, state_read=StateRead.POWER_ON)
            a_report(tx, as_signed(), state_read=StateRead.AFTER_CATEGORY, read_at=NOW + HOUR)
            seen = see_wall(tx).devices[0]

        assert seen.status is DeviceStatus.UNSAFE

    def test_only_a_good_reading_of_the_same_state_takes_it_back(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, STRAYED, state_read=StateRead.POWER_ON)
            a_report(tx, as_signed(), state_read=StateRead.AFTER_CATEGORY, read_at=NOW + HOUR)
            a_report(tx, as_signed(), state_read=StateRead.POWER_ON, read_at=NOW + 2 * HOUR)
            page = device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW + DAY)

        assert page.now is not None
        assert page.now.tally.worst is None
        assert page.now.presets[PRESET].read_at == NOW + 2 * HOUR

    def test_the_values_known_are_those_of_the_worse_state(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, as_signed(), state_read=StateRead.AFTER_CATEGORY)
            a_report(tx, STRAYED, state_read=StateRead.POWER_ON, read_at=NOW + HOUR)
            a_report(tx, as_signed(), state_read=StateRead.AFTER_CATEGORY, read_at=NOW + 2 * HOUR)
            page = device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW + DAY)

        assert page.now is not None
        assert page.now.readings[PRESET, "heart-rate-high"] == STRAYED["heart-rate-high"]
