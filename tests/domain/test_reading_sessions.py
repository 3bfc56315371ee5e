"""What is asked at first, by whom, and until when."""

from datetime import UTC, datetime, timedelta

import pytest

from app.domain.agency_choices import AgencyChoices
from app.domain.device_reports import Origin, StateRead
from app.domain.double_reading import WITHIN, NextLook
from app.domain.errors import Refused
from app.domain.people import Person, Role
from app.domain.reading_sessions import (
    LockedLook,
    NewReading,
    ReadingSession,
    ReadingStatus,
    asked_at_first,
    asked_closely,
    check_new_reading,
    origin_of,
)
from app.domain.triggers import Trigger
from tests.domain.presets import preset_of
from tests.worked_profiles import on

MORNING = datetime(2026, 3, 1, 8, tzinfo=UTC)
SECOND = timedelta(seconds=1)
PRESET = preset_of(
    {
        "spo2-high": {"state": "off", "reason": "none"},
        "spo2-low": on(90),
        "heart-rate-high": on(170),
        "heart-rate-low": on(75) | {"deep": {"limit": 50, "priority": "high", "delay_s": 0}},
        "apnoea": on(20),
        "etco2-low": {"state": "not-fitted"},
        "etco2-high": {"state": "no-policy"},
    }
)
WHOLE = ("heart-rate-low", "heart-rate-low.deep", "heart-rate-high", "spo2-low", "spo2-high")


def test_what_may_cover_for_a_critical_alarm_is_asked_with_it() -> None:
    """Off protocol or unsafe hangs on it; one that is off covers nothing."""
    preset = preset_of(
        {
            "heart-rate-high": on(170),
            "pulse-rate-high": on(170),
            "pulse-rate-low": on(75),
            "spo2-low": on(90),
            "airway-apnoea": on(20),
            "apnoea": on(20),
            "respiratory-rate-low": on(15),
            "airway-respiratory-rate-low": {"state": "off", "reason": "none"},
        }
    )
    chosen = "heart-rate-high", "apnoea", "respiratory-rate-low"

    asked = asked_at_first(preset, AgencyChoices(critical_alarms=chosen), whole=False)

    assert set(asked) == {*chosen, "pulse-rate-high", "airway-apnoea"}


ASKED = ("apnoea", "heart-rate-high", "heart-rate-low", "heart-rate-low.deep", "spo2-low")


@pytest.mark.parametrize(
    ("wanted", "die", "closely"),
    [
        (set(), 3, set()),
        ({"etco2-low"}, 3, set()),  # is not asked at all
        ({"spo2-low"}, 0, {"spo2-low", "apnoea", "heart-rate-high"}),
        ({"spo2-low"}, 1, {"spo2-low", "heart-rate-high", "heart-rate-low"}),
        ({"spo2-low"}, 2, {"spo2-low", "heart-rate-low", "apnoea"}),
        ({"heart-rate-low.deep"}, 0, {"heart-rate-low.deep", "apnoea", "heart-rate-high"}),
    ],
)
def test_more_is_asked_of_two_others_so_that_nobody_is_told_which_it_is_about(
    wanted: set[str], die: int, closely: set[str]
) -> None:
    assert asked_closely(ASKED, wanted, die) == closely


def test_what_is_asked_alone_is_asked_without_others() -> None:
    assert asked_closely(("apnoea",), {"apnoea"}, 7) == {"apnoea"}


def test_what_a_finding_is_about_is_asked_even_where_the_policy_states_it_not() -> None:
    also = {"etco2-low", "spo2-low.deep"}

    asked = asked_at_first(PRESET, AgencyChoices(), whole=False, also=also)

    assert asked[3:5] == ("spo2-low", "spo2-low.deep")
    assert asked[-1] == "etco2-low"


@pytest.mark.parametrize(
    ("critical", "whole", "asked"),
    [
        ((), False, (*WHOLE, "apnoea")),
        ((), True, (*WHOLE, "apnoea")),
        (
            ("spo2-low", "heart-rate-low"),
            False,
            ("heart-rate-low", "heart-rate-low.deep", "spo2-low"),
        ),
        (("apnoea",), True, ("apnoea", *WHOLE)),
        (("etco2-low",), False, (*WHOLE, "apnoea")),  # nothing critical is stated: all is asked
    ],
)
def test_the_critical_set_is_asked_first(
    critical: tuple[str, ...], whole: bool, asked: tuple[str, ...]
) -> None:
    choices = AgencyChoices(critical_alarms=critical)

    assert asked_at_first(PRESET, choices, whole=whole) == asked


@pytest.mark.parametrize(
    ("trigger", "whole", "asked_for"),
    [
        (Trigger.MONTHLY, False, False),
        (Trigger.CENSUS, False, True),
        (Trigger.SAMPLE, False, True),
        (Trigger.REVISION, False, True),
        (Trigger.SERVICE, True, True),
        (Trigger.FINDING, False, True),
        (Trigger.INCIDENT, False, True),
        (Trigger.LOAN, True, False),
        (Trigger.HANDOVER, False, False),
    ],
)
def test_a_trigger_says_how_much_is_read_and_whether_it_was_wanted(
    trigger: Trigger, whole: bool, asked_for: bool
) -> None:
    assert (trigger.wants_whole, trigger.asked_for) == (whole, asked_for)


@pytest.mark.parametrize(
    ("roles", "trigger", "origin"),
    [
        ({Role.CREW}, Trigger.HANDOVER, Origin.CREW),
        ({Role.CREW}, Trigger.SAMPLE, Origin.FORM),
        ({Role.CREW, Role.TECHNICIAN}, Trigger.HANDOVER, Origin.FORM),
        ({Role.FLEET_MANAGER}, Trigger.MONTHLY, Origin.FORM),
    ],
)
def test_what_a_crew_sends_in_by_themselves_is_labelled(
    roles: set[Role], trigger: Trigger, origin: Origin
) -> None:
    person = Person(1, 1, "skerry", "cruz", "Cruz", frozenset(roles))

    assert origin_of(person, trigger) is origin


@pytest.mark.parametrize(
    ("column", "instead"),
    [("software", {"software": ""}), ("minutes_off", {"minutes_off": -1}), ("key", {"key": ""})],
)
def test_a_reading_does_not_begin_without_what_it_needs(
    column: str, instead: dict[str, object]
) -> None:
    given: dict[str, object] = {
        "device": "boat-3",
        "preset": "CHILD",
        "state_read": StateRead.POWER_ON,
        "trigger": Trigger.MONTHLY,
        "software": "3.2",
        "key": "k",
    }

    check_new_reading(NewReading(**given))  # type: ignore[arg-type]
    with pytest.raises(Refused) as refused:
        check_new_reading(NewReading(**(given | instead)))  # type: ignore[arg-type]

    assert [fault.column for fault in refused.value.faults] == [column]


def session(*looks: LockedLook, status: ReadingStatus = ReadingStatus.WAITING) -> ReadingSession:
    return ReadingSession(
        1, "boat-3", "CHILD", StateRead.POWER_ON, Trigger.MONTHLY, "3.2", None, "",
        7, False, 1, "Femi", MORNING, status, None, looks,
    )  # fmt: skip


FIRST = LockedLook(NextLook(1, ("spo2-low",)))
LOCKED = LockedLook(NextLook(1, ("spo2-low",)), 5, 1, "Femi", MORNING + timedelta(hours=1))
SECOND_LOOK = LockedLook(NextLook(2, ("spo2-low",)))


@pytest.mark.parametrize(
    ("found", "wanted"),
    [
        (session(FIRST), 1),
        (session(LOCKED, SECOND_LOOK), 2),
        (session(LOCKED, status=ReadingStatus.SETTLED), None),
        (session(LOCKED, SECOND_LOOK, status=ReadingStatus.LAPSED), None),
    ],
)
def test_the_look_that_is_wanted_is_the_last_one(found: ReadingSession, wanted: int | None) -> None:
    assert (found.wanted and found.wanted.number) == wanted


@pytest.mark.parametrize(
    ("found", "begins"),
    [(session(FIRST), MORNING), (session(LOCKED, SECOND_LOOK), MORNING + timedelta(hours=1))],
)
def test_it_lapses_a_day_after_the_first_look(found: ReadingSession, begins: datetime) -> None:
    assert not found.is_late(begins + WITHIN)
    assert found.is_late(begins + WITHIN + SECOND)


def test_what_is_settled_is_never_late() -> None:
    assert not session(LOCKED, status=ReadingStatus.SETTLED).is_late(MORNING + 9 * WITHIN)
