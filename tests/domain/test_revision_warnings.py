from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from app.domain.moves import RevisionStatus
from app.domain.revision_warnings import Matter, Urgency, overdue, revision_warnings
from app.domain.revisions import RevisionLine
from tests.domain.test_waivers import a_waiver

SIGNED = datetime(2026, 3, 2, 9, tzinfo=UTC)
DAY, TICK = timedelta(days=1), timedelta(microseconds=1)
LINE = RevisionLine(
    id=1,
    number=3,
    status=RevisionStatus.SIGNED,
    fingerprint="f" * 64,
    edit_version=1,
    created_at=SIGNED,
    changed_at=SIGNED,
    signed_at=SIGNED,
    in_force_at=SIGNED,
    review_by=date(2027, 3, 2),
)
EMERGENCY = replace(LINE, emergency="a fault in the field")
DUE = SIGNED + 30 * DAY


def told(line: RevisionLine, now: datetime, **more: Any) -> list[tuple[str, str]]:
    waivers = more.get("waivers", ())
    found = revision_warnings(line, waivers, now=now, zone=more.get("zone", "UTC"))
    return [(one.matter.value, one.urgency.value) for one in found]


@pytest.mark.parametrize(
    ("today", "urgency"),
    [
        (date(2026, 12, 31), None),  # 61 days left
        (date(2027, 1, 1), "coming"),  # 60
        (date(2027, 1, 30), "coming"),  # 31
        (date(2027, 1, 31), "near"),  # 30
        (date(2027, 3, 1), "near"),
        (date(2027, 3, 2), "near"),  # the day itself
        (date(2027, 3, 3), "overdue"),
    ],
)
def test_a_review_warns_60_30_and_0_days_before(today: date, urgency: str | None) -> None:
    now = datetime(today.year, today.month, today.day, 23, 59, tzinfo=UTC)

    assert told(LINE, now) == ([] if urgency is None else [("review", urgency)])


@pytest.mark.parametrize(
    ("today", "words"),
    [
        (date(2027, 1, 31), "Revision 3 must be reviewed by 2 Mar 2027, in 30 days."),
        (date(2027, 3, 1), "Revision 3 must be reviewed by 2 Mar 2027, in 1 day."),
        (date(2027, 3, 2), "Revision 3 must be reviewed today."),
        (date(2027, 3, 3), "Revision 3 should have been reviewed by 2 Mar 2027. It still holds."),
    ],
)
def test_it_says_by_when(today: date, words: str) -> None:
    now = datetime(today.year, today.month, today.day, 12, tzinfo=UTC)

    (warning,) = revision_warnings(LINE, (), now=now, zone="UTC")

    assert warning.words == words


def test_the_day_is_that_of_the_agency() -> None:
    late = datetime(2027, 3, 2, 23, 30, tzinfo=UTC)

    assert told(LINE, late) == [("review", "near")]
    assert told(LINE, late, zone="Europe/Helsinki") == [("review", "overdue")]


@pytest.mark.parametrize(
    ("line", "now", "urgency"),
    [
        (EMERGENCY, SIGNED, "near"),
        (EMERGENCY, DUE, "near"),
        (EMERGENCY, DUE + TICK, "overdue"),
        (replace(EMERGENCY, reviewed_at=SIGNED + DAY), DUE + TICK, None),
        (LINE, DUE + TICK, None),
        (replace(EMERGENCY, until=SIGNED + DAY), DUE + TICK, "overdue"),
        (replace(EMERGENCY, withdrawn_at=SIGNED + DAY), DUE + TICK, None),
    ],
)
def test_what_was_signed_alone_is_reviewed_within_30_days(
    line: RevisionLine, now: datetime, urgency: str | None
) -> None:
    assert told(line, now) == ([] if urgency is None else [("after-review", urgency)])


@pytest.mark.parametrize(
    ("day", "warned"),
    [(date(2026, 6, 1), False), (date(2026, 6, 2), True)],
)
def test_a_waiver_that_ended_warns(day: date, warned: bool) -> None:
    now = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)

    found = told(LINE, now, waivers=[a_waiver()])

    assert found == ([("waiver", "overdue")] if warned else [])


@pytest.mark.parametrize(
    "line",
    [replace(LINE, until=SIGNED + DAY), replace(LINE, withdrawn_at=SIGNED + DAY)],
)
def test_what_no_longer_holds_is_not_reviewed(line: RevisionLine) -> None:
    late = datetime(2028, 1, 1, tzinfo=UTC)

    assert told(line, late, waivers=[a_waiver()]) == []


def test_the_overdue_come_first_and_can_be_taken_alone() -> None:
    now = datetime(2026, 6, 2, 12, tzinfo=UTC)
    soon = replace(LINE, review_by=date(2026, 6, 20))

    found = revision_warnings(soon, [a_waiver()], now=now, zone="UTC")

    assert [one.urgency for one in found] == [Urgency.OVERDUE, Urgency.NEAR]
    assert [one.matter for one in overdue(found)] == [Matter.WAIVER]
