"""The shift check: taken once, judged after it is locked, and never clearing a device."""

from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import Session, func, select

from app.actions.looks import LookTaken, lock_look
from app.actions.shift_checks import put_right, take_check
from app.domain.device_reports import CouldNotRead, FoundNotFitted, Origin, StateRead
from app.domain.errors import Conflict, MarchstoneError, NotAllowed, NotFound, NotNow, Refused
from app.domain.known_devices import DeviceStatus
from app.domain.people import Role
from app.domain.shift_checks import Result
from app.domain.shift_questions import Answer, Question
from app.lookups import fleet
from app.lookups.ledger import prove_ledger
from app.lookups.shift_checks import CheckBrought, check_brought
from app.storage import findings, reports
from app.storage.database import Database
from app.storage.reports import ReportRow
from app.storage.shift_checks import ShiftCheckRow
from tests.actions.test_at_once import at_once
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
from tests.shift_checks import InOrder, a_check, a_new_check, at_shift, queued
from tests.storage.ledgers import bodies, deeds

LATER = NOW + 2 * HOUR
SLIGHT, GRAVE = limit(150), limit(200)
"""Of the high heart rate, signed 170: tighter, and beyond the danger bound."""


@pytest.fixture
def tx(database: Database) -> Any:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        for role in (Role.FLEET_MANAGER, Role.TECHNICIAN, Role.CREW):
            a_person(tx, role)
        yield tx


def brought(tx: Session, number: int, now: Any = NOW) -> CheckBrought:
    agency_id = a_person(tx).agency_id
    return check_brought(tx, agency_id=agency_id, number=number, now=now)


def page(tx: Session, now: Any = NOW) -> fleet.DevicePage:
    return fleet.device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=now)


def holding(tx: Session) -> None:
    """Every preset read as signed, so that the device holds the policy."""
    for preset in ("neonate", "infant", PRESET, "school", "adult"):
        a_report(tx, as_signed(preset), preset=preset)


class TestTaking:
    def test_what_conforms_is_a_report_sent_in_by_crew(self, tx: Session) -> None:
        check = a_check(tx)

        found = brought(tx, check.id)
        assert found.result is Result.HOLDS
        assert found.report is not None
        assert (found.report.origin, found.report.trigger) == (Origin.CREW, "shift check")
        assert set(found.report.readings) == set(at_shift())
        assert deeds(tx)[-2:] == ["read a device", "check a device"]

    def test_somebody_with_more_roles_sends_it_in_as_crew_all_the_same(self, tx: Session) -> None:
        check = a_check(tx, by=a_person(tx, Role.TECHNICIAN))

        found = brought(tx, check.id)
        assert found.report is not None
        assert found.report.origin is Origin.CREW

    def test_the_same_check_again_is_answered_the_same(self, tx: Session) -> None:
        new = a_new_check()
        first = a_check(tx, new)

        again = a_check(tx, new, now=LATER)

        assert again == first
        assert tx.exec(select(func.count()).select_from(ReportRow)).one() == 1

    def test_it_may_be_sent_again_at_another_time(self, tx: Session) -> None:
        first = a_check(tx, a_new_check(key="one", queued=queued(NOW - HOUR, NOW)))

        again = a_check(tx, a_new_check(key="one", queued=queued(NOW - HOUR, LATER)), now=LATER)

        assert again == first

    @pytest.mark.parametrize(
        "instead", [{"readings": at_shift(apnoea=limit(15))}, {"preset": "infant"}]
    )
    def test_another_check_under_the_same_key_is_refused(
        self, tx: Session, instead: dict[str, Any]
    ) -> None:
        a_check(tx, a_new_check(key="one"))

        with pytest.raises(Conflict, match="with this key"):
            a_check(tx, a_new_check(key="one", **instead))

    def test_somebody_else_cannot_send_the_same_key(self, tx: Session) -> None:
        a_check(tx, a_new_check(key="one"))

        with pytest.raises(Conflict):
            a_check(tx, a_new_check(key="one"), by=a_person(tx, Role.TECHNICIAN))

    def test_a_number_of_a_phone_is_taken_once(self, tx: Session) -> None:
        a_check(tx, queued=queued(NOW, NOW, number=7))

        with pytest.raises(Conflict, match="Check 7 of this phone came in already, of boat-3"):
            a_check(tx, queued=queued(NOW, NOW, number=7), now=LATER)

    def test_what_one_person_locked_another_cannot_send(self, tx: Session) -> None:
        new = a_new_check(reader="cruz")

        with pytest.raises(NotAllowed, match="Let cruz sign in"):
            a_check(tx, new, by=a_person(tx, Role.TECHNICIAN))

        assert a_check(tx, new).person == "Cruz"

    @pytest.mark.parametrize(
        ("instead", "error", "told"),
        [
            ({"device": "boat-33"}, NotFound, "no device boat-33"),
            ({"preset": "gull"}, Refused, "no such preset"),
            ({"preset": " "}, Refused, "must not be empty"),
            ({"state_read": StateRead.STORED_PRESET}, Refused, "how it was when you looked"),
            ({"minutes_off": -1}, Refused, "cannot be negative"),
            ({"answers": {Question.VOLUME: Answer.NOT_FITTED}}, Refused, "one of the answers"),
            ({"queued": queued(NOW, NOW, number=0)}, Refused, "counted from 1"),
            ({"queued": queued(NOW - 40 * DAY, NOW)}, Refused, "40 days before it was sent"),
        ],
    )
    def test_what_cannot_be_taken_is_refused_and_nothing_is_stored(
        self, tx: Session, instead: dict[str, Any], error: type[MarchstoneError], told: str
    ) -> None:
        with pytest.raises(error, match=told):
            a_check(tx, **instead)

    def test_an_outsider_finds_no_device(self, tx: Session) -> None:
        with pytest.raises(NotFound):
            a_check(tx, by=olu(tx))

    def test_a_reader_of_policy_alone_cannot_check(self, tx: Session) -> None:
        with pytest.raises(NotAllowed):
            a_check(tx, by=a_person(tx, Role.AUTHOR))


class TestTime:
    @pytest.mark.parametrize("ahead", [-3 * HOUR, timedelta(), 3 * HOUR])
    def test_a_wrong_clock_is_corrected_and_both_times_are_kept(
        self, tx: Session, ahead: timedelta
    ) -> None:
        waits = queued(NOW + ahead - 20 * MINUTE, NOW + ahead)

        check = a_check(tx, queued=waits)

        assert (check.read_at, check.received_at) == (NOW - 20 * MINUTE, NOW)
        assert check.queued == waits
        assert brought(tx, check.id).report.read_at == NOW - 20 * MINUTE  # type: ignore[union-attr]

    def test_it_is_judged_by_the_revision_in_force_when_the_device_was_looked_at(
        self, tx: Session
    ) -> None:
        a_signed_revision(tx, document=a_document({"heart-rate-high": 160}), in_force_at=NOW + HOUR)

        before = a_check(tx, queued=queued(NOW + 59 * MINUTE, LATER), now=LATER)
        after = a_check(tx, queued=queued(NOW + 61 * MINUTE, LATER, number=2), now=LATER + MINUTE)

        assert brought(tx, before.id, LATER).result is Result.HOLDS
        assert brought(tx, after.id, LATER).result is Result.LOOK_AGAIN

    def test_an_older_check_that_comes_later_changes_nothing_that_is_known(
        self, tx: Session
    ) -> None:
        a_check(tx, now=LATER)

        late = a_check(
            tx,
            readings=at_shift(heart_rate_high=GRAVE),
            queued=queued(NOW, LATER + HOUR),
            now=LATER + HOUR,
        )

        assert late.read_at == NOW
        assert page(tx, LATER).status is not DeviceStatus.UNSAFE

    def test_after_a_day_nobody_is_asked_to_look_again(self, tx: Session) -> None:
        now = NOW + 2 * DAY
        check = a_check(
            tx, readings=at_shift(heart_rate_high=SLIGHT), queued=queued(NOW, now), now=now
        )

        assert brought(tx, check.id, now).look_again == 0


class TestWhatItBrings:
    def test_something_unsafe_opens_a_finding_at_once(self, tx: Session) -> None:
        holding(tx)
        check = a_check(tx, readings=at_shift(heart_rate_high=GRAVE), now=LATER)

        found = brought(tx, check.id, LATER)
        assert found.result is Result.UNSAFE
        assert found.look_again > 1
        assert page(tx, LATER).status is DeviceStatus.UNSAFE
        opened = findings.findings_not_closed(tx, a_device(tx))
        assert [one.alarm for one in opened] == ["heart-rate-high"]

    def test_what_only_deviates_is_looked_at_again_first(self, tx: Session) -> None:
        holding(tx)
        check = a_check(tx, readings=at_shift(heart_rate_high=SLIGHT), now=LATER)

        found = brought(tx, check.id, LATER)
        assert (found.result, found.look_again) == (Result.LOOK_AGAIN, 3)
        assert findings.findings_not_closed(tx, a_device(tx)) == []
        assert page(tx, LATER).status is DeviceStatus.NOT_JUDGED

    @pytest.mark.parametrize(
        ("second", "result", "status"),
        [
            (limit(170), Result.HOLDS, DeviceStatus.HOLDS),
            (SLIGHT, Result.DIFFERS, DeviceStatus.DIFFERS),
        ],
    )
    def test_the_second_look_settles_it(
        self, tx: Session, second: Any, result: Result, status: DeviceStatus
    ) -> None:
        """A slip leaves what was known before as it was."""
        holding(tx)
        check = a_check(tx, readings=at_shift(heart_rate_high=SLIGHT), now=LATER)
        looks = [second] if result is Result.DIFFERS else [second, second]
        readers = [Role.CREW, Role.TECHNICIAN]
        for number, (found, role) in enumerate(zip(looks, readers, strict=False), start=2):
            asked = brought(tx, check.id, LATER).session.looks[-1].wanted.asked
            readings = {alarm: at_shift(heart_rate_high=found)[alarm] for alarm in asked}
            lock_look(
                tx,
                reading=check.reading,
                taken=LookTaken(number, readings, 5),
                dice=InOrder(),
                by=a_person(tx, role),
                now=LATER + number * MINUTE,
            )

        assert brought(tx, check.id, LATER + HOUR).result is result
        assert page(tx, LATER + HOUR).status is status

    def test_it_never_clears_a_device(self, tx: Session) -> None:
        """It reads a few alarms, and says nothing of the others."""
        a_check(tx)

        assert page(tx).status is DeviceStatus.NOT_JUDGED

    def test_what_holds_stays_so_and_as_old_as_it_is(self, tx: Session) -> None:
        holding(tx)
        a_check(tx, now=LATER)

        known = page(tx, LATER)
        assert known.status is DeviceStatus.HOLDS
        assert known.now is not None
        assert known.now.latest_read_at == NOW

    def test_what_was_known_unsafe_stays_unsafe(self, tx: Session) -> None:
        a_report(tx, as_signed(nibp_systolic_low=limit(20)))
        a_check(tx, now=LATER)

        assert page(tx, LATER).status is DeviceStatus.UNSAFE

    def test_what_could_not_be_read_is_counted(self, tx: Session) -> None:
        check = a_check(
            tx,
            readings=at_shift(spo2_low=CouldNotRead("glare"), apnoea=FoundNotFitted()),
            answers={Question.CLOCK: Answer.COULD_NOT_TELL, Question.ETCO2: Answer.NOT_FITTED},
        )

        assert (check.unread, check.not_fitted) == (2, 2)

    def test_of_a_device_in_use_it_says_how_it_was_used(self, tx: Session) -> None:
        check = a_check(tx, state_read=StateRead.IN_USE, minutes_off=None)

        assert brought(tx, check.id).result is Result.IN_USE

    def test_without_a_policy_nothing_is_said_to_hold(self, database: Database) -> None:
        with database.writing() as tx:
            a_device(tx)
            check = a_check(tx)

            assert brought(tx, check.id).result is Result.PARTLY

    def test_another_category_at_start_is_unsafe(self, database: Database) -> None:
        document = a_document() | {
            "options": {"start-up-category": {"value": "adult", "reason": "agreed"}}
        }
        with database.writing() as tx:
            a_signed_revision(tx, document=document)
            a_device(tx)
            wrong = a_check(tx)
            right = a_check(
                tx,
                preset="adult",
                readings={a: as_signed("adult")[a] for a in at_shift()},
                now=LATER,
            )

            assert brought(tx, wrong.id).result is Result.UNSAFE
            assert "starts up as preschool, not adult" in wrong.found[0].words
            assert right.found == ()


class TestBesidesLimits:
    @pytest.mark.parametrize("question", [one for one in Question if one.grave])
    def test_what_may_stay_silent_keeps_the_device_from_the_next_patient(
        self, tx: Session, question: Question
    ) -> None:
        from app.lookups.register import device_on_register

        holding(tx)
        check = a_check(tx, answers={question: Answer.NO}, now=LATER)

        assert brought(tx, check.id, LATER).result is Result.UNSAFE
        agency_id = a_person(tx).agency_id
        cleared = device_on_register(tx, agency_id=agency_id, tag="boat-3", now=LATER).clearance
        assert cleared.words == "not cleared"
        assert question.fault in cleared.why[0]

    def test_a_wrong_clock_is_told_and_keeps_nobody_away(self, tx: Session) -> None:
        check = a_check(tx, answers={Question.CLOCK: Answer.NO})

        assert (brought(tx, check.id).result, check.grave) == (Result.AMISS, False)

    def test_somebody_else_puts_it_right(self, tx: Session) -> None:
        holding(tx)
        check = a_check(tx, answers={Question.ALARMS_ON: Answer.NO}, now=LATER)

        mended = put_right(
            tx,
            number=check.id,
            told="Switched on, and heard.",
            by=a_person(tx, Role.TECHNICIAN),
            now=LATER + MINUTE,
        )

        assert not mended.waits
        assert brought(tx, check.id, LATER + MINUTE).result is Result.HOLDS
        assert bodies(tx)[-1]["about"]["found"] == ["alarms-on"]
        with pytest.raises(NotNow):
            put_right(tx, number=check.id, told="again", by=a_person(tx), now=LATER + HOUR)

    @pytest.mark.parametrize(
        ("by", "told", "error"),
        [
            (Role.TECHNICIAN, " ", Refused),
            (Role.CREW, "done", NotAllowed),
            (Role.FLEET_MANAGER, "done", NotAllowed),
        ],
    )
    def test_who_found_it_does_not_and_a_word_is_needed(
        self, tx: Session, by: Role, told: str, error: type[MarchstoneError]
    ) -> None:
        femi = a_person(tx, Role.FLEET_MANAGER)
        check = a_check(tx, answers={Question.VOLUME: Answer.NO}, by=femi)

        with pytest.raises(error):
            put_right(tx, number=check.id, told=told, by=a_person(tx, by), now=LATER)


class TestAtOnce:
    def test_two_who_send_the_same_key_at_once_store_it_once(self, database: Database) -> None:
        new = a_new_check(readings=at_shift(heart_rate_high=GRAVE), queued=queued(NOW, NOW))
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            cruz = a_person(tx, Role.CREW)

        first, second = at_once(
            database,
            *[lambda tx: take_check(tx, new=new, dice=InOrder(), by=cruz, now=NOW)] * 2,
        )

        assert first == second
        assert not isinstance(first, MarchstoneError)
        with database.reading() as tx:
            for table in (ShiftCheckRow, ReportRow):
                assert tx.exec(select(func.count()).select_from(table)).one() == 1
            assert prove_ledger(tx).holds
            found = reports.report_by_id(tx, 1)
            assert found.verdicts.keys() == {"heart-rate-high"}
