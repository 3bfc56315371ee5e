"""What somebody must still do about a revision that is signed: nothing of it stops the policy."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from app.domain.local_days import day_words, local_day
from app.domain.moves import RevisionStatus
from app.domain.revisions import RevisionLine
from app.domain.waivers import Waiver

FIRST_WORD, SECOND_WORD = 60, 30  # days before the review is due; common practice
_LIVING = frozenset({RevisionStatus.SIGNED, RevisionStatus.IN_FORCE})


class Matter(StrEnum):
    REVIEW = "review"
    AFTER_REVIEW = "after-review"
    WAIVER = "waiver"


class Urgency(StrEnum):
    """Overdue is shown wherever the limits are."""

    COMING = "coming"
    NEAR = "near"
    OVERDUE = "overdue"


@dataclass(frozen=True)
class RevisionWarning:
    number: int
    matter: Matter
    urgency: Urgency
    words: str

    @property
    def is_overdue(self) -> bool:
        return self.urgency is Urgency.OVERDUE


def revision_warnings(
    line: RevisionLine, waivers: Iterable[Waiver], *, now: datetime, zone: str
) -> tuple[RevisionWarning, ...]:
    """The overdue first. A revision that is superseded or withdrawn only owes its after-review."""
    found = [*_after_review(line, now, zone)]
    if line.as_of(now).status in _LIVING:
        today = local_day(now, zone)
        found += [*_review(line, today), *_waivers(line, waivers, today)]
    order = list(reversed(Urgency))
    return tuple(sorted(found, key=lambda one: order.index(one.urgency)))


def overdue(warnings: Iterable[RevisionWarning]) -> tuple[RevisionWarning, ...]:
    return tuple(warning for warning in warnings if warning.is_overdue)


def _review(line: RevisionLine, today: date) -> Iterator[RevisionWarning]:
    if line.review_by is None:
        return
    left = (line.review_by - today).days
    if left > FIRST_WORD:
        return
    due = day_words(line.review_by)
    if left < 0:
        urgency, words = Urgency.OVERDUE, f"should have been reviewed by {due}. It still holds."
    elif left == 0:
        urgency, words = Urgency.NEAR, "must be reviewed today."
    else:
        urgency = Urgency.NEAR if left <= SECOND_WORD else Urgency.COMING
        words = f"must be reviewed by {due}, in {left} day{'' if left == 1 else 's'}."
    yield RevisionWarning(line.number, Matter.REVIEW, urgency, f"Revision {line.number} {words}")


def _after_review(line: RevisionLine, now: datetime, zone: str) -> Iterator[RevisionWarning]:
    due = line.after_review_due
    if due is None or line.withdrawn_at is not None:
        return
    day = day_words(local_day(due, zone))
    late = now > due
    words = "should have reviewed" if late else "must review"
    yield RevisionWarning(
        line.number,
        Matter.AFTER_REVIEW,
        Urgency.OVERDUE if late else Urgency.NEAR,
        f"Revision {line.number} was signed in an emergency by one person alone. "
        f"Another person {words} it by {day}.",
    )


def _waivers(
    line: RevisionLine, waivers: Iterable[Waiver], today: date
) -> Iterator[RevisionWarning]:
    for waiver in waivers:
        if not waiver.holds_on(today):
            yield RevisionWarning(
                line.number,
                Matter.WAIVER,
                Urgency.OVERDUE,
                f"A waiver of revision {line.number} by {waiver.by_name} ended on "
                f"{day_words(waiver.until)}; the limit still holds. {waiver.message}",
            )
