"""Beginning to read a device, and the looks until it is settled."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, func, select

from app.actions.agency_choices import choose
from app.actions.looks import LookTaken, lock_look
from app.actions.readings import start_reading
from app.domain.agency_choices import AgencyChoices
from app.domain.clearances import ClearanceState
from app.domain.device_reports import (
    CouldNotRead,
    FoundOff,
    FoundOn,
    NotRead,
    Origin,
    Reading,
    StateRead,
)
from app.domain.devices import Device
from app.domain.double_reading import UNSETTLED, WITHIN
from app.domain.errors import Conflict, NotAllowed, NotFound, NotNow, Refused
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.finding_steps import StepDetails
from app.domain.fleet import StoredReport
from app.domain.known_devices import DeviceStatus
from app.domain.people import Person, Role
from app.domain.reading_sessions import NewReading, ReadingSession, ReadingStatus
from app.domain.settings_of_alarms import Priority
from app.domain.triggers import Trigger
from app.lookups import fleet
from app.lookups.finding_stories import finding_story
from app.lookups.readings import reading_quality
from app.storage import findings, reports
from app.storage.database import Database
from app.storage.devices_now import device_now
from app.storage.reports import ReportRow
from tests.actions.test_clearances import a_serviced_device, clearance
from tests.actions.test_findings import a_finding, move
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
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
from tests.storage.ledgers import bodies

CRITICAL = ("heart-rate-low", "heart-rate-high", "spo2-low", "apnoea", "airway-apnoea")
LOOSE, TIGHT = limit(180), limit(150)
"""Of the high heart rate, signed 170: at the danger bound, and nearer than signed."""
GRAVE = limit(200)
LATER = NOW + 2 * HOUR


class InOrder:
    def sample(self, population: Sequence[str], k: int) -> list[str]:
        return list(population)[:k]


def ready(tx: Session) -> None:
    a_signed_revision(tx)
    a_device(tx)
    a_person(tx, Role.FLEET_MANAGER)
    a_person(tx, Role.TECHNICIAN)
    a_person(tx, Role.CREW)


def begun(
    tx: Session, *, by: Person | None = None, die: int = 99, **instead: Any
) -> ReadingSession:
    now = instead.pop("now", NOW)
    wanted: dict[str, Any] = {
        "device": "boat-3",
        "preset": PRESET,
        "state_read": StateRead.POWER_ON,
        "trigger": Trigger.MONTHLY,
        "software": "3.2",
        "key": f"begun at {now} with {instead}",
        "minutes_off": 5,
    }
    femi = by or a_person(tx, Role.FLEET_MANAGER)
    return start_reading(tx, new=NewReading(**(wanted | instead)), die=die, by=femi, now=now)


def look(
    tx: Session,
    session: ReadingSession,
    found: Mapping[str, Reading] | None = None,
    *,
    by: Role = Role.FLEET_MANAGER,
    now: datetime = NOW,
    minutes_off: int | None = 5,
    **how: Any,
) -> ReadingSession:
    """Of the look that is wanted: as signed, but for what was found."""
    number = session.looks[-1].wanted.number
    asked = session.looks[-1].wanted.asked
    readings = {alarm: {**as_signed(), **(found or {})}[alarm] for alarm in asked}
    taken = LookTaken(number, how.get("readings", readings), minutes_off)
    person = how.get("person") or a_person(tx, by)
    return lock_look(tx, reading=session.id, taken=taken, dice=InOrder(), by=person, now=now)


def page(tx: Session, now: datetime = NOW) -> fleet.DevicePage:
    return fleet.device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=now)


def opened(tx: Session) -> dict[str, str]:
    boat: Device = a_device(tx)
    return {one.alarm: one.severity.value for one in findings.findings_not_closed(tx, boat)}


def told_by(tx: Session, session: ReadingSession) -> StoredReport:
    assert session.telling is not None
    return reports.report_by_id(tx, session.telling)


class TestBeginning:
    def test_it_asks_for_everything_that_the_policy_states(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = begun(tx)

            assert set(session.looks[0].wanted.asked) == set(as_signed())
            assert (session.status, session.telling) == (ReadingStatus.WAITING, None)
            assert bodies(tx)[-1]["about"] == {
                "reading": session.id,
                "device": "boat-3",
                "preset": PRESET,
                "state_read": "power-on",
                "trigger": "monthly check",
                "die": 99,
                "percent": 10,
                "whole": False,
            }

    @pytest.mark.parametrize(
        ("trigger", "die", "whole"),
        [
            (Trigger.MONTHLY, 10, False),
            (Trigger.MONTHLY, 9, True),
            (Trigger.SERVICE, 99, True),
            (Trigger.LOAN, 99, True),
            (Trigger.SAMPLE, 99, False),
        ],
    )
    def test_the_whole_preset_is_asked_after_service_and_when_the_die_says_so(
        self, sqlite_database: Database, trigger: Trigger, die: int, whole: bool
    ) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            ada = a_person(tx, Role.ADMINISTRATOR)
            choose(tx, choices=AgencyChoices(critical_alarms=CRITICAL), by=ada, now=NOW)
            session = begun(tx, trigger=trigger, die=die)

        assert (session.whole, session.die) == (whole, die)
        wanted = session.looks[0].wanted.asked
        assert wanted[: len(CRITICAL)] == CRITICAL
        assert set(wanted) == set(as_signed() if whole else CRITICAL)

    def test_a_finding_beyond_the_critical_set_is_asked_about(
        self, sqlite_database: Database
    ) -> None:
        """Without saying so: the whole preset is read."""
        with sqlite_database.writing() as tx:
            ready(tx)
            ada = a_person(tx, Role.ADMINISTRATOR)
            choose(tx, choices=AgencyChoices(critical_alarms=CRITICAL), by=ada, now=NOW)
            a_report(tx, as_signed(respiratory_rate_low=limit(20)))

            assert begun(tx).whole

    def test_the_same_key_begins_one_reading(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            first = begun(tx, key="once")
            entries = len(bodies(tx))

            assert begun(tx, key="once", now=NOW + HOUR) == first
            assert len(bodies(tx)) == entries

    @pytest.mark.parametrize(
        ("column", "instead"),
        [
            ("preset", {"preset": "CHILD"}),
            ("preset", {"preset": " "}),
            ("software", {"software": " "}),
            ("software", {"software": "3.2\x00"}),
            ("minutes_off", {"minutes_off": -1}),
        ],
    )
    def test_what_is_missing_is_told_at_its_place(
        self, sqlite_database: Database, column: str, instead: dict[str, Any]
    ) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)

            with pytest.raises(Refused) as refused:
                begun(tx, **instead)

        assert [fault.column for fault in refused.value.faults] == [column]

    def test_without_a_policy_there_is_nothing_to_ask(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            a_device(tx)

            with pytest.raises(NotNow, match="No policy is in force"):
                begun(tx)

    def test_an_outsider_finds_no_device_and_no_reading(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = begun(tx)

            with pytest.raises(NotFound):
                begun(tx, by=olu(tx))
            with pytest.raises(NotFound):
                look(tx, session, person=olu(tx))

    def test_who_may_not_read_devices_begins_none(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = begun(tx)
            dana = a_person(tx)

            with pytest.raises(NotAllowed):
                begun(tx, by=dana)
            with pytest.raises(NotAllowed):
                look(tx, session, person=dana)


class TestTheFirstLook:
    def test_what_conforms_is_settled_and_counts_at_once(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx))

            assert session.status is ReadingStatus.SETTLED
            report = told_by(tx, session)
            assert (report.verdicts, report.software, report.trigger) == (
                {},
                "3.2",
                "monthly check",
            )
            assert (report.origin, report.read_at, report.minutes_off) == (Origin.FORM, NOW, 5)
            known = page(tx).now
            assert known is not None
            assert known.presets[PRESET].report == report.id
            about = bodies(tx)[-1]["about"]
            assert (about["reading"], about["look"]) == (session.id, 1)

    def test_what_deviates_waits_and_the_device_is_not_judged(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            for preset in ("neonate", "infant", PRESET, "school", "adult"):
                a_report(tx, as_signed(preset), preset=preset)
            before = page(tx).status
            session = look(
                tx, begun(tx, now=NOW + HOUR), {"heart-rate-high": TIGHT}, now=NOW + HOUR
            )
            found = page(tx, NOW + HOUR)

            assert before is DeviceStatus.HOLDS
            assert (session.status, session.telling) == (ReadingStatus.WAITING, None)
            assert opened(tx) == {}
            assert found.status is DeviceStatus.NOT_JUDGED
            assert found.now is not None
            assert found.now.readings[PRESET, "heart-rate-high"] == limit(170)
            assert found.reports[0].waits
            assert found.reports[0].lines == ()

    def test_a_preset_that_was_never_read_knows_all_but_what_is_in_doubt(
        self, sqlite_database: Database
    ) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            look(tx, begun(tx), {"heart-rate-high": TIGHT})
            known = page(tx).now

        assert known is not None
        assert known.readings[PRESET, "heart-rate-high"] == NotRead()
        assert known.readings[PRESET, "spo2-low"] == limit(90)
        assert (known.tally.missing, known.tally.worst) == (1, None)

    def test_what_differed_before_still_differs_while_it_waits(
        self, sqlite_database: Database
    ) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            a_report(tx, as_signed(spo2_low=limit(92)))
            look(tx, begun(tx, now=NOW + HOUR), {"heart-rate-high": TIGHT}, now=NOW + HOUR)

            assert page(tx, NOW + HOUR).status is DeviceStatus.DIFFERS

    @pytest.mark.parametrize("comes_late", [False, True])
    def test_what_is_in_doubt_is_not_known_whichever_report_tells(
        self, database: Database, *, comes_late: bool
    ) -> None:
        """A later report of the other state makes this look the one that tells."""
        after = StateRead.AFTER_CATEGORY
        with database.writing() as tx:
            ready(tx)
            a_report(tx, as_signed(spo2_low=limit(92)), state_read=after)
            if comes_late:
                known = as_signed()
                known.pop("spo2-low")
                a_report(tx, known, state_read=after, read_at=NOW + HOUR)
            look(tx, begun(tx, now=LATER), {"heart-rate-high": TIGHT}, now=LATER)
            a_report(tx, state_read=after, read_at=NOW + HOUR / 2 if comes_late else NOW + HOUR)

            held = device_now(tx, a_device(tx).id)

        assert held is not None
        assert held.presets[PRESET].telling.waits
        assert held.readings[PRESET, "heart-rate-high"] == NotRead()

    def test_what_is_unsafe_is_told_and_contained_at_once(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            found = {"heart-rate-high": GRAVE, "spo2-low": limit(92)}
            session = look(tx, begun(tx), found)
            seen = page(tx)

            assert session.status is ReadingStatus.WAITING
            assert opened(tx) == {"heart-rate-high": "unsafe"}
            assert seen.status is DeviceStatus.UNSAFE
            assert [line.alarm for line in seen.reports[0].lines] == ["heart-rate-high"]

    @pytest.mark.parametrize("state", [StateRead.IN_USE, StateRead.STORED_PRESET])
    def test_what_says_nothing_of_the_next_patient_is_not_looked_at_again(
        self, sqlite_database: Database, state: StateRead
    ) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx, state_read=state), {"heart-rate-high": GRAVE})

            assert session.status is ReadingStatus.SETTLED
            assert list(told_by(tx, session).verdicts) == ["heart-rate-high"]
            assert page(tx).now is None

    def test_what_could_not_be_read_is_no_doubt(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"spo2-low": CouldNotRead("dark")})

            assert session.status is ReadingStatus.SETTLED
            assert page(tx).status is DeviceStatus.NOT_JUDGED

    def test_a_crew_by_themselves_are_labelled(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx, trigger=Trigger.HANDOVER), by=Role.CREW)
            report = told_by(tx, session)

        assert report.origin is Origin.CREW
        assert report.read_by == "Cruz (sent in by crew)"


class TestTheSecondLook:
    def test_two_matching_alarms_are_asked_with_what_deviates(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})

        wanted = session.wanted
        assert wanted is not None
        assert (wanted.number, len(wanted.asked)) == (2, 3)
        assert "heart-rate-high" in wanted.asked

    def test_what_it_confirms_opens_a_finding(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
            session = look(tx, session, {"heart-rate-high": TIGHT}, now=NOW + MINUTE)
            report = told_by(tx, session)

            assert session.status is ReadingStatus.SETTLED
            assert report.origin is Origin.SETTLED
            assert (report.readings, report.read_by) == (
                as_signed(heart_rate_high=TIGHT), "Femi",
            )  # fmt: skip
            assert opened(tx) == {"heart-rate-high": "off-protocol"}
            assert page(tx).status is DeviceStatus.DIFFERS
            assert not any(one.waits for one in page(tx).reports)
            assert tx.exec(select(func.count()).select_from(ReportRow)).one() == 3
            assert [body["did"] for body in bodies(tx)[-2:]] == [
                "read a device",
                "settle a reading",
            ]

    def test_where_it_differs_a_third_person_settles(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
            session = look(tx, session, now=NOW + MINUTE)
            assert session.wanted is not None
            with pytest.raises(NotNow, match="Somebody who has not looked"):
                look(tx, session, now=NOW + HOUR)
            session = look(tx, session, by=Role.TECHNICIAN, now=NOW + HOUR)

            assert session.status is ReadingStatus.SETTLED
            assert opened(tx) == {}
            report = told_by(tx, session)
            assert (report.verdicts, report.read_by) == ({}, "Femi, Tess")
            first = reports.report_by_id(tx, session.looks[0].report or 0)
            assert first.readings["heart-rate-high"] == TIGHT  # no entry was made equal

    def test_three_things_found_settle_nothing(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
            session = look(tx, session, now=NOW + MINUTE)
            session = look(
                tx, session, {"heart-rate-high": limit(160)}, by=Role.CREW, now=NOW + HOUR
            )

            assert session.status is ReadingStatus.SETTLED
            assert told_by(tx, session).readings["heart-rate-high"] == UNSETTLED
            assert opened(tx) == {}
            assert page(tx, NOW + HOUR).status is DeviceStatus.NOT_JUDGED

    def test_a_second_person_looks_at_what_is_unsafe(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": GRAVE})

            with pytest.raises(NotNow, match="Somebody who has not looked"):
                look(tx, session, now=NOW + MINUTE)
            session = look(tx, session, {"heart-rate-high": GRAVE}, by=Role.CREW, now=NOW + MINUTE)

            assert session.status is ReadingStatus.SETTLED
            (found,) = findings.findings_not_closed(tx, a_device(tx))
            assert found.opened_by == session.looks[0].report
            assert found.report == session.telling

    def test_a_false_flag_leaves_its_finding_to_people(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": GRAVE})
            session = look(tx, session, by=Role.TECHNICIAN, now=NOW + MINUTE)
            session = look(tx, session, by=Role.CREW, now=NOW + HOUR)

            assert told_by(tx, session).verdicts == {}
            assert opened(tx) == {"heart-rate-high": "unsafe"}
            known = page(tx).now
            assert known is not None
            assert known.tally.worst is None

    def test_a_decoy_that_is_found_unsafe_is_contained_at_once(
        self, sqlite_database: Database
    ) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            off = {"airway-apnoea": FoundOff(), "apnoea": FoundOff()}
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
            session = look(tx, session, {"heart-rate-high": TIGHT, **off}, now=NOW + MINUTE)

            assert session.wanted is not None
            assert set(off) <= set(session.wanted.asked)
            assert session.wanted.other_than == {a_person(tx, Role.FLEET_MANAGER).id}
            assert opened(tx) == {"airway-apnoea": "unsafe", "apnoea": "unsafe"}

    def test_too_short_a_pause_is_refused(self, sqlite_database: Database) -> None:
        keeping = a_document() | {"models": {"dunlin": {"retention_min": 4}}}
        with sqlite_database.writing() as tx:
            a_signed_revision(tx, document=keeping)
            a_device(tx)
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})

            with pytest.raises(Refused) as refused:
                look(tx, session, minutes_off=4, now=NOW + MINUTE)

        assert refused.value.faults[0].column == "minutes_off"

    def test_after_a_day_nobody_looks_again(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
            late = NOW + WITHIN + timedelta(seconds=1)

            with pytest.raises(NotNow, match="A day has passed"):
                look(tx, session, now=late)
            anew = begun(tx, now=late)
            assert anew.status is ReadingStatus.WAITING
            with pytest.raises(NotNow, match="A day has passed"):
                look(tx, session, now=NOW + HOUR)
            assert not page(tx, late).reports[0].waits  # what it found may be told now


class TestTheSecondLookAlone:
    def test_what_the_first_look_read_still_covers(self, database: Database) -> None:
        """Only the heart rate strays and is asked again; the pulse rate had been read as signed."""
        document = a_document()
        settings = document["settings"][PRESET]
        settings["pulse-rate-high"] = settings["heart-rate-high"] | {"reason": "as well"}
        pulse = {"pulse-rate-high": limit(170)}
        with database.writing() as tx:
            a_signed_revision(tx, document=document)
            a_device(tx)
            session = begun(tx)
            asked = session.looks[0].wanted.asked
            everything = as_signed(heart_rate_high=GRAVE) | pulse
            session = look(tx, session, {alarm: everything[alarm] for alarm in asked})
            assert not opened(tx)
            assert "pulse-rate-high" not in session.looks[1].wanted.asked

            look(tx, session, {"heart-rate-high": GRAVE}, now=NOW + MINUTE)

            assert opened(tx) == {"heart-rate-high": "off-protocol"}


class TestAFalseUnsafeFlag:
    def flagged(self, tx: Session, *, second: Reading, third: Reading | None) -> StoredFinding:
        """Femi's first look is unsafe; the crew looks, then Tess if the two differ."""
        ready(tx)
        session = look(tx, begun(tx), {"heart-rate-high": GRAVE})
        strayed = {"heart-rate-high": second}
        session = look(tx, session, strayed, by=Role.CREW, now=NOW + MINUTE)
        if third is not None:
            strayed = {"heart-rate-high": third}
            look(tx, session, strayed, by=Role.TECHNICIAN, now=NOW + 2 * MINUTE)
        [found] = findings.findings_not_closed(tx, a_device(tx))
        return found

    def close(self, tx: Session, found: StoredFinding, note: str = "read the wrong line") -> None:
        details = StepDetails(cause=CauseCode.READING_ERROR)
        femi = a_person(tx, Role.FLEET_MANAGER)
        move(tx, found, FindingStatus.CLOSED, femi, now=LATER, note=note, details=details)

    def test_what_further_looks_disprove_is_closed_without_mending(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            found = self.flagged(tx, second=limit(170), third=limit(170))
            assert finding_story(
                tx, agency_id=a_person(tx).agency_id, finding_id=found.id, now=LATER
            ).disproved
            assert page(tx).status is DeviceStatus.UNSAFE

            with pytest.raises(Refused):
                self.close(tx, found, note=" ")
            self.close(tx, found)

            assert findings.findings_not_closed(tx, a_device(tx)) == []
            assert page(tx).status is not DeviceStatus.UNSAFE
            assert bodies(tx)[-1]["did"] == "close a finding"
            assert bodies(tx)[-1]["about"]["cause"] == "reading-error"

    @pytest.mark.parametrize(
        ("second", "third"),
        [
            (GRAVE, None),  # borne out
            (limit(170), GRAVE),  # borne out by the third
            (limit(170), None),  # not settled yet
            (limit(160), limit(170)),  # three things
        ],
    )
    def test_what_they_do_not_disprove_is_mended_as_any_other(
        self, database: Database, second: Reading, third: Reading | None
    ) -> None:
        with database.writing() as tx:
            found = self.flagged(tx, second=second, third=third)

            with pytest.raises(NotNow, match="several looks must bear out"):
                self.close(tx, found)

    def test_a_finding_of_a_file_has_no_looks_that_disprove_it(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx)

            with pytest.raises(NotNow, match="several looks must bear out"):
                self.close(tx, found)


class TestTheLedger:
    def test_what_a_waiting_look_found_is_told_once_it_is_settled(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            first = look(tx, begun(tx), {"heart-rate-high": LOOSE})
            waiting = bodies(tx)[-1]["about"]
            session = look(tx, first, {"heart-rate-high": LOOSE}, now=NOW + MINUTE)
            second, settled = (one["about"] for one in bodies(tx)[-2:])

        assert "deviations" not in waiting
        assert "heart-rate-high" not in str(waiting)
        told = {"heart-rate-high": ["looser", "off-protocol"]}
        assert second["deviations"] == settled["deviations"] == told
        assert settled["earlier"] == {str(first.looks[0].report): told}
        assert settled["report"] == session.telling

    def test_a_look_that_waits_for_nobody_is_told_at_once(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            look(tx, begun(tx))

            assert bodies(tx)[-1]["about"]["deviations"] == {}


class TestClearance:
    """Tess mended it; everything but this preset was read and conforms."""

    def mended(self, tx: Session) -> ReadingSession:
        a_serviced_device(tx)
        crew = a_person(tx, Role.CREW)
        for number, preset in enumerate(("neonate", "infant", "school", "adult")):
            at = LATER + 2 * HOUR + number * MINUTE
            a_report(tx, as_signed(preset), preset=preset, by=crew, read_at=at)
        choices = AgencyChoices(critical_alarms=("heart-rate-high", "apnoea"))
        choose(tx, choices=choices, by=a_person(tx, Role.ADMINISTRATOR), now=NOW)
        return begun(tx, now=LATER + 3 * HOUR)

    def test_what_the_looks_bear_out_clears_it(self, database: Database) -> None:
        with database.writing() as tx:
            session = self.mended(tx)
            session = look(tx, session, {"heart-rate-high": TIGHT}, now=LATER + 3 * HOUR)
            assert clearance(tx, days=1).state is ClearanceState.NOT_CLEARED
            at = LATER + 3 * HOUR
            session = look(tx, session, now=at + MINUTE)
            assert clearance(tx, days=1).state is ClearanceState.NOT_CLEARED
            session = look(tx, session, by=Role.CREW, now=at + 2 * MINUTE)

            assert session.status is ReadingStatus.SETTLED
            assert clearance(tx, days=1).state is ClearanceState.CLEARED

    def test_no_single_look_of_a_reading_in_doubt_does(self, database: Database) -> None:
        """The second one saw all that is critical, as signed; the third agrees with the first."""
        with database.writing() as tx:
            session = self.mended(tx)
            at = LATER + 3 * HOUR
            session = look(tx, session, {"heart-rate-high": TIGHT}, now=at)
            session = look(tx, session, now=at + MINUTE)
            tight = {"heart-rate-high": TIGHT}
            session = look(tx, session, tight, by=Role.CREW, now=at + 2 * MINUTE)
            a_report(
                tx,
                as_signed("adult"),
                preset="adult",
                by=a_person(tx, Role.CREW),
                read_at=at + HOUR,
            )

            assert clearance(tx, days=1).state is ClearanceState.NOT_CLEARED

    def test_nor_looks_of_which_the_worker_made_one(self, database: Database) -> None:
        with database.writing() as tx:
            session = self.mended(tx)
            at = LATER + 3 * HOUR
            session = look(tx, session, {"heart-rate-high": TIGHT}, by=Role.TECHNICIAN, now=at)
            session = look(tx, session, now=at + MINUTE)
            session = look(tx, session, by=Role.CREW, now=at + 2 * MINUTE)

            assert session.status is ReadingStatus.SETTLED
            assert clearance(tx, days=1).state is ClearanceState.NOT_CLEARED


class TestVerifyingWhatIsNoLimit:
    """A file told of a low priority; the limit had been right all along."""

    def corrected(self, tx: Session, strayed: FoundOn) -> StoredFinding:
        a_signed_revision(tx)
        a_device(tx)
        femi, tess = a_person(tx, Role.FLEET_MANAGER), a_person(tx, Role.TECHNICIAN)
        a_report(tx, as_signed(heart_rate_high=strayed), by=femi, origin=Origin.FILE)
        [found] = findings.findings_not_closed(tx, a_device(tx))
        found = move(tx, found, FindingStatus.CONTAINED, femi, note="taken off", now=NOW)
        return move(tx, found, FindingStatus.CORRECTED, tess, note="set", now=NOW + HOUR)

    @pytest.mark.parametrize(
        "strayed",
        [
            FoundOn(Decimal(170), priority=Priority.LOW),
            FoundOn(Decimal(170), delay_s=Decimal(20)),
            FoundOn(Decimal(170), latching=True),
        ],
    )
    def test_the_blind_form_asks_for_it_and_verifies(
        self, database: Database, strayed: FoundOn
    ) -> None:
        right = FoundOn(Decimal(170), None, Priority.MEDIUM, Decimal(0), latching=False)
        with database.writing() as tx:
            found = self.corrected(tx, strayed)
            session = begun(tx, now=LATER, die=0)
            closely = session.looks[0].wanted.closely
            assert "heart-rate-high" in closely
            assert len(closely) == 3

            look(tx, session, {"heart-rate-high": right}, now=LATER)

            femi = a_person(tx, Role.FLEET_MANAGER)
            assert move(tx, found, FindingStatus.VERIFIED, femi, now=LATER).verified is not None

    def test_the_next_look_asks_as_closely(self, database: Database) -> None:
        low = FoundOn(Decimal(170), None, Priority.LOW, Decimal(0), latching=False)
        with database.writing() as tx:
            self.corrected(tx, FoundOn(Decimal(170), priority=Priority.LOW))
            session = look(tx, begun(tx, now=LATER), {"heart-rate-high": low}, now=LATER)

            again = session.looks[1].wanted
            assert "heart-rate-high" in again.closely
            assert again.closely <= set(again.asked)

    def test_a_deep_line_that_the_policy_does_not_know_is_asked(self, database: Database) -> None:
        """It was found on a device that has one."""
        strayed = as_signed() | {"heart-rate-high.deep": limit(190)}
        with database.writing() as tx:
            ready(tx)
            a_report(tx, strayed, origin=Origin.FILE)

            assert "heart-rate-high.deep" in begun(tx).looks[0].wanted.asked
            assert "spo2-low.deep" not in begun(tx).looks[0].wanted.asked


class TestVerifyingByLooks:
    """Femi found it, Tess corrected it an hour later."""

    def test_a_look_that_another_contradicts_verifies_nothing(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx, FindingStatus.CORRECTED)
            femi = a_person(tx, Role.FLEET_MANAGER)
            a_person(tx, Role.CREW)
            session = look(tx, begun(tx, now=LATER), {"heart-rate-high": TIGHT}, now=LATER)
            session = look(tx, session, now=LATER + MINUTE)

            with pytest.raises(NotNow, match="not settled"):
                move(tx, found, FindingStatus.VERIFIED, femi)
            look(tx, session, by=Role.CREW, now=LATER + 2 * MINUTE)
            assert move(tx, found, FindingStatus.VERIFIED, femi).verified is not None

    def test_what_three_looks_do_not_settle_verifies_nothing(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx, FindingStatus.CORRECTED)
            a_person(tx, Role.CREW)
            session = look(tx, begun(tx, now=LATER), {"heart-rate-high": TIGHT}, now=LATER)
            session = look(tx, session, {"heart-rate-high": limit(160)}, now=LATER + MINUTE)
            look(tx, session, by=Role.CREW, now=LATER + 2 * MINUTE)

            with pytest.raises(NotNow, match="all looks at it since then"):
                move(tx, found, FindingStatus.VERIFIED, a_person(tx, Role.FLEET_MANAGER))


class TestOnce:
    def test_the_same_look_twice_changes_nothing(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            session = begun(tx)
            first = look(tx, session)
            entries = len(bodies(tx))
            second = look(tx, session, now=NOW + HOUR)

            assert second == first
            assert len(bodies(tx)) == entries
            assert tx.exec(select(func.count()).select_from(ReportRow)).one() == 1

    @pytest.mark.parametrize("which", ["another reading", "another person"])
    def test_a_locked_look_is_never_changed(self, sqlite_database: Database, which: str) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = begun(tx)
            look(tx, session)
            by = Role.FLEET_MANAGER if which == "another reading" else Role.TECHNICIAN
            found = {"spo2-low": limit(80)} if which == "another reading" else {}

            with pytest.raises(Conflict, match="locked by Femi already"):
                look(tx, session, found, by=by, now=NOW + MINUTE)

    def test_a_look_that_nobody_wants_is_refused(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = begun(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)

            with pytest.raises(NotNow, match="not wanted"):
                lock_look(
                    tx,
                    reading=session.id,
                    taken=LookTaken(2, as_signed()),
                    dice=InOrder(),
                    by=femi,
                    now=NOW,
                )

    def test_it_answers_exactly_what_is_asked(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = begun(tx)

            with pytest.raises(Refused, match="answer what is asked"):
                look(tx, session, readings={"spo2-low": limit(90)})


class TestWhatLookingAgainBrought:
    def test_flags_and_fields_are_counted_with_their_intervals(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            both = {"heart-rate-high": TIGHT, "spo2-low": limit(92)}
            session = look(tx, begun(tx), both)
            session = look(tx, session, {"spo2-low": limit(92)}, now=NOW + MINUTE)
            look(tx, session, by=Role.CREW, now=NOW + HOUR)
            agency = a_person(tx).agency_id
            found = reading_quality(tx, agency_id=agency, since=NOW)
            later = reading_quality(tx, agency_id=agency, since=NOW + MINUTE)

        assert (found.confirmed.found, found.confirmed.of) == (1, 2)
        assert (found.disagreed.found, found.disagreed.of) == (1, 4)
        assert found.confirmed.interval is not None
        assert found.confirmed.interval.low < 0.5 < found.confirmed.interval.high
        assert (later.confirmed.of, later.confirmed.interval) == (0, None)

    def test_an_outsider_counts_nothing(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
            look(tx, session, {"heart-rate-high": TIGHT}, now=NOW + MINUTE)
            found = reading_quality(tx, agency_id=olu(tx).agency_id, since=NOW - DAY)

        assert found.confirmed.of == 0
