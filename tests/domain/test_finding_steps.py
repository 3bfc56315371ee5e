from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from app.domain.comparison import Direction
from app.domain.device_reports import CouldNotRead, FoundOff, FoundOn, Origin, Reading, StateRead
from app.domain.errors import Refused
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import Audible, FindingKind, FindingStatus
from app.domain.finding_steps import StepDetails, check_details, why_not_proven
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.settings_of_alarms import Priority
from tests.builders import NOW
from tests.domain.test_finding_life import a_finding

CONTAINED, CORRECTED = FindingStatus.CONTAINED, FindingStatus.CORRECTED
VERIFIED, CLOSED = FindingStatus.VERIFIED, FindingStatus.CLOSED
CAUSE, YES, NO = CauseCode.SOFTWARE, Audible.YES, Audible.NO
SEAT = StepDetails(heard=YES, seen=YES)
WHOLE = StepDetails(CAUSE, YES, YES)
ALARM, DEEP = "spo2-low", "spo2-low.deep"


@pytest.mark.parametrize(
    ("to", "details", "missing"),
    [
        (CONTAINED, StepDetails(), set()),
        (CONTAINED, StepDetails(CAUSE), {"cause"}),
        (CONTAINED, SEAT, {"heard"}),
        (CORRECTED, StepDetails(CAUSE), set()),
        (CORRECTED, SEAT, {"heard"}),
        (VERIFIED, StepDetails(), set()),
        (VERIFIED, SEAT, set()),
        (VERIFIED, StepDetails(heard=YES), {"seen"}),
        (VERIFIED, StepDetails(seen=YES), {"heard"}),
        (VERIFIED, StepDetails(CAUSE), {"cause"}),
        (CLOSED, StepDetails(), {"cause", "heard"}),
        (CLOSED, SEAT, {"cause"}),
        (CLOSED, StepDetails(CAUSE), {"heard"}),
        (CLOSED, WHOLE, set()),
        (CLOSED, StepDetails(CAUSE, Audible.NOT_TESTED, Audible.NOT_TESTED), set()),
        (CLOSED, StepDetails(CAUSE, NO, YES), {"note"}),
    ],
)
def test_a_step_tells_what_it_must_and_nothing_else(
    to: FindingStatus, details: StepDetails, missing: set[str]
) -> None:
    assert told(a_finding(), to, details) == missing


@pytest.mark.parametrize(
    ("instead", "details", "missing"),
    [
        ({"cause": CAUSE, "heard": YES, "seen": YES}, StepDetails(), set()),
        ({"severity": Severity.OFF_PROTOCOL}, StepDetails(CAUSE), set()),
        ({"severity": Severity.OFF_PROTOCOL}, StepDetails(), {"cause"}),
        ({"kind": FindingKind.USE}, StepDetails(), set()),
        ({"cause": CAUSE, "heard": NO, "seen": NO}, StepDetails(), {"note"}),
    ],
)
def test_closing_asks_for_what_is_not_known_yet(
    instead: dict[str, Any], details: StepDetails, missing: set[str]
) -> None:
    assert told(a_finding(**instead), CLOSED, details) == missing


def test_what_nobody_hears_is_closed_with_a_word_of_what_is_done() -> None:
    check_details(a_finding(), CLOSED, StepDetails(CAUSE, NO, YES), note="a louder speaker")


def told(found: Any, to: FindingStatus, details: StepDetails) -> set[str]:
    try:
        check_details(found, to, details, note="")
    except Refused as refused:
        return {str(fault.column) for fault in refused.faults}
    return set()


def a_report(readings: dict[str, Reading], *deviating: str, revision: int | None = 1) -> Any:
    return StoredReport(
        id=1,
        device="boat-3",
        model="dunlin",
        preset="preschool",
        state_read=StateRead.POWER_ON,
        read_at=NOW,
        received_at=NOW,
        reader_id=1,
        reader="Femi",
        software="3.2",
        trigger="",
        minutes_off=5,
        revision=revision,
        readings=readings,
        verdicts=dict.fromkeys(deviating, (Direction.LOOSER, Severity.UNSAFE)),
        origin=Origin.FORM,
        reader_told="",
        device_clock="",
    )


def on(limit: int, **more: Any) -> FoundOn:
    return FoundOn(Decimal(limit), **more)


FULL = on(90, priority=Priority.HIGH, delay_s=Decimal(5), latching=False)


@pytest.mark.parametrize(
    ("found", "proof", "deviating", "words"),
    [
        ({ALARM: on(80)}, {ALARM: on(90)}, (), ""),
        ({ALARM: FoundOff()}, {ALARM: on(90)}, (), ""),
        ({ALARM: on(80)}, {ALARM: on(80)}, (ALARM,), "does not show"),
        ({ALARM: on(80)}, {}, (), "does not show"),
        ({ALARM: on(80)}, {ALARM: CouldNotRead("glare")}, (), "does not show"),
        ({ALARM: on(80), DEEP: on(70)}, {ALARM: on(90)}, (), "does not show"),
        ({ALARM: on(80), DEEP: on(70)}, {ALARM: on(90), DEEP: on(70)}, (), ""),
        ({ALARM: on(80), DEEP: on(70)}, {ALARM: on(90), DEEP: on(60)}, (DEEP,), "does not show"),
        ({ALARM: on(80), DEEP: CouldNotRead("x")}, {ALARM: on(90)}, (), ""),
        ({ALARM: FULL}, {ALARM: on(90)}, (), "says nothing of priority"),
        ({ALARM: FULL}, {ALARM: replace(FULL, delay_s=None)}, (), "says nothing of priority"),
        ({ALARM: FULL}, {ALARM: replace(FULL, delay_s=Decimal(0))}, (), ""),
        ({ALARM: replace(FULL, limit=Decimal(80))}, {ALARM: on(90)}, (), ""),
    ],
)
def test_the_whole_alarm_must_be_read(
    found: dict[str, Reading], proof: dict[str, Reading], deviating: tuple[str, ...], words: str
) -> None:
    why = why_not_proven(a_report(proof, *deviating), a_report(found, ALARM), ALARM)

    assert bool(why) is bool(words)
    assert words in why


def test_without_a_policy_nothing_conforms() -> None:
    proof = a_report({ALARM: on(90)}, revision=None)

    assert "no policy" in why_not_proven(proof, a_report({ALARM: on(80)}, ALARM), ALARM)
