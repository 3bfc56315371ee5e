from datetime import UTC, date, datetime, timedelta

import pytest

from app.domain.errors import NotNow, Refused
from app.domain.moves import RevisionStatus
from app.domain.revisions import (
    RevisionLine,
    check_beginning,
    check_review_by,
    earlier_numbers,
    waiting_lines,
    with_ends,
)

MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY = timedelta(days=1)
TICK = timedelta(microseconds=1)


def line(
    number: int, in_force_at: datetime | None = None, withdrawn_at: datetime | None = None
) -> RevisionLine:
    status = RevisionStatus.DRAFT if in_force_at is None else RevisionStatus.SIGNED
    return RevisionLine(
        id=number,
        number=number,
        status=status if withdrawn_at is None else RevisionStatus.WITHDRAWN,
        fingerprint="f" * 64,
        edit_version=1,
        created_at=MONDAY - 30 * DAY,
        changed_at=MONDAY - 30 * DAY,
        signed_at=None if in_force_at is None else MONDAY - 10 * DAY,
        in_force_at=in_force_at,
        withdrawn_at=withdrawn_at,
    )


def in_force(lines: list[RevisionLine], at: datetime) -> list[int]:
    return [one.number for one in with_ends(lines) if one.holds_at(at)]


def statuses(lines: list[RevisionLine], at: datetime) -> list[str]:
    return [one.as_of(at).status.value for one in with_ends(lines)]


@pytest.mark.parametrize(
    ("at", "numbers"),
    [
        (MONDAY - TICK, []),
        (MONDAY, [1]),
        (MONDAY + DAY - TICK, [1]),
        (MONDAY + DAY, [2]),
        (MONDAY + 999 * DAY, [2]),
    ],
)
def test_a_revision_is_in_force_until_the_next_begins(at: datetime, numbers: list[int]) -> None:
    assert in_force([line(1, MONDAY), line(2, MONDAY + DAY), line(3)], at) == numbers


def test_of_two_that_begin_together_the_later_number_holds() -> None:
    assert in_force([line(1, MONDAY), line(2, MONDAY)], MONDAY) == [2]


def test_after_a_withdrawal_nothing_is_in_force_not_even_the_one_before() -> None:
    lines = [line(1, MONDAY), line(2, MONDAY + DAY, withdrawn_at=MONDAY + 2 * DAY)]

    assert in_force(lines, MONDAY + 2 * DAY - TICK) == [2]
    assert in_force(lines, MONDAY + 2 * DAY) == []


def test_one_withdrawn_before_its_time_never_supersedes() -> None:
    lines = [line(1, MONDAY), line(2, MONDAY + 3 * DAY, withdrawn_at=MONDAY + DAY)]

    assert in_force(lines, MONDAY + 4 * DAY) == [1]


def test_status_is_what_was_decided_and_what_the_clock_made_of_it() -> None:
    lines = [
        line(1, MONDAY),
        line(2, MONDAY + DAY, withdrawn_at=MONDAY + 2 * DAY),
        line(3, MONDAY + 4 * DAY),
        line(4),
    ]

    assert statuses(lines, MONDAY - DAY) == ["signed", "signed", "signed", "draft"]
    assert statuses(lines, MONDAY) == ["in-force", "signed", "signed", "draft"]
    assert statuses(lines, MONDAY + DAY) == ["superseded", "in-force", "signed", "draft"]
    assert statuses(lines, MONDAY + 2 * DAY) == ["superseded", "withdrawn", "signed", "draft"]
    assert statuses(lines, MONDAY + 4 * DAY) == ["superseded", "withdrawn", "in-force", "draft"]


def test_a_draft_has_no_end() -> None:
    assert [one.until for one in with_ends([line(1), line(2, MONDAY)])] == [None, None]


def test_a_revision_begins_when_it_is_signed_or_later() -> None:
    check_beginning([line(1)], number=1, in_force_at=MONDAY, now=MONDAY)

    with pytest.raises(Refused, match="passed"):
        check_beginning([line(1)], number=1, in_force_at=MONDAY - TICK, now=MONDAY)


def test_a_draft_older_than_what_is_signed_is_not_signed() -> None:
    lines = [line(1, MONDAY + DAY), line(2), line(3, MONDAY + 5 * DAY, withdrawn_at=MONDAY)]

    check_beginning(lines, number=2, in_force_at=MONDAY + DAY, now=MONDAY)
    with pytest.raises(NotNow, match="Revision 1 is signed already"):
        check_beginning(lines, number=0, in_force_at=MONDAY + 9 * DAY, now=MONDAY)


class TestOneSignedForNowWhileAnotherWaits:
    """The third begins on Monday, the second, signed before it, four days later."""

    lines = (line(1, MONDAY - DAY), line(2, MONDAY + 4 * DAY), line(3, MONDAY))

    def test_it_may_be_signed(self) -> None:
        check_beginning(self.lines[:2], number=3, in_force_at=MONDAY, now=MONDAY)

    @pytest.mark.parametrize(
        ("at", "number"),
        [
            (MONDAY - TICK, 1),
            (MONDAY, 3),
            (MONDAY + 4 * DAY - TICK, 3),
            (MONDAY + 4 * DAY, 2),
            (MONDAY + 99 * DAY, 2),
        ],
    )
    def test_the_waiting_one_takes_over_at_its_time(self, at: datetime, number: int) -> None:
        assert in_force([*self.lines], at) == [number]

    def test_unless_it_is_withdrawn(self) -> None:
        withdrawn = [self.lines[0], line(2, MONDAY + 4 * DAY, MONDAY + DAY), self.lines[2]]

        assert in_force(withdrawn, MONDAY + 4 * DAY) == [3]
        assert statuses(withdrawn, MONDAY + 4 * DAY) == ["superseded", "withdrawn", "in-force"]

    def test_each_has_its_status_and_its_end(self) -> None:
        assert statuses([*self.lines], MONDAY) == ["superseded", "signed", "in-force"]
        assert statuses([*self.lines], MONDAY + 4 * DAY) == ["superseded", "in-force", "superseded"]
        assert [one.until for one in with_ends(self.lines)] == [MONDAY, None, MONDAY + 4 * DAY]

    @pytest.mark.parametrize(("number", "earlier"), [(1, []), (3, [1]), (2, [3, 1])])
    def test_before_is_what_was_in_force_before(self, number: int, earlier: list[int]) -> None:
        assert earlier_numbers(self.lines, number, most=3) == earlier

    @pytest.mark.parametrize(
        ("after", "waiting"),
        [(MONDAY, [2]), (MONDAY + 4 * DAY - TICK, [2]), (MONDAY + 4 * DAY, [])],
    )
    def test_who_signs_is_told_what_waits(self, after: datetime, waiting: list[int]) -> None:
        found = waiting_lines(self.lines, after=after, but=3)

        assert [one.number for one in found] == waiting


def test_one_withdrawn_before_it_began_has_no_end() -> None:
    (found,) = with_ends([line(1, MONDAY + 3 * DAY, withdrawn_at=MONDAY)])

    assert found.never_began
    assert found.until is None
    assert not line(1, MONDAY, withdrawn_at=MONDAY + DAY).never_began
    assert not line(1).never_began


@pytest.mark.parametrize(
    ("number", "most", "earlier"),
    [(5, 3, [4, 3, 1]), (5, 2, [4, 3]), (4, 3, [3, 1]), (1, 3, []), (2, 3, [1])],
)
def test_the_revisions_before_are_those_that_were_in_force(
    number: int, most: int, earlier: list[int]
) -> None:
    """The second one was withdrawn before its time; the sixth is a draft."""
    lines = [
        line(1, MONDAY),
        line(2, MONDAY + DAY, withdrawn_at=MONDAY),
        *(line(n, MONDAY + n * DAY) for n in (3, 4, 5)),
        line(6),
    ]

    assert earlier_numbers(lines, number, most=most) == earlier


@pytest.mark.parametrize(
    ("review_by", "allowed"),
    [
        (date(2026, 3, 2), False),
        (date(2026, 3, 3), True),
        (date(2029, 3, 2), True),
        (date(2029, 3, 3), False),
    ],
)
def test_a_review_is_due_after_the_beginning_and_within_three_years(
    review_by: date, allowed: bool
) -> None:
    if allowed:
        check_review_by(review_by, begins=MONDAY.date())
    else:
        with pytest.raises(Refused):
            check_review_by(review_by, begins=MONDAY.date())
