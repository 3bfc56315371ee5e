"""How the invented policy came about: one revision superseded, one in force, one being written."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

from app.actions.revision_comments import add_comment
from app.actions.revisions import move_revision, record_review, start_draft
from app.actions.signing import sign_revision
from app.demo.people import Staff, password_of
from app.demo.profile import document
from app.domain.moves import RevisionStatus
from app.domain.people import Role

Event = tuple[timedelta, Callable[[datetime], object]]
"""How long before the first day of the demo, and what happened then."""

FIRST_BEGAN, SECOND_BEGAN = 400, 70  # days ago
_DAY = timedelta(days=1)


def policy_events(tx: Any, staff: Staff) -> Iterator[Event]:
    yield from _signed(tx, staff, number=1, began=FIRST_BEGAN)
    yield from _signed(tx, staff, number=2, began=SECOND_BEGAN)
    anna, ravi = staff[Role.AUTHOR], staff[Role.REVIEWER]
    yield 6 * _DAY, lambda now: start_draft(tx, document=document(3), by=anna, now=now)
    yield (
        4 * _DAY,
        lambda now: add_comment(
            tx,
            number=3,
            cell=("child", "respiratory-rate-low"),
            text="Who asked for 11? Let the night crews say how often 12 sounds in sleep.",
            by=ravi,
            now=now,
        ),
    )


def _signed(tx: Any, staff: Staff, *, number: int, began: int) -> Iterator[Event]:
    anna, ravi, dana = (staff[role] for role in (Role.AUTHOR, Role.REVIEWER, Role.MEDICAL_DIRECTOR))
    prints: list[str] = []

    def draft(now: datetime) -> None:
        started = start_draft(tx, document=document(number), by=anna, now=now)
        prints.append(started.fingerprint)

    yield (began + 9) * _DAY, draft
    yield (
        (began + 5) * _DAY,
        lambda now: move_revision(tx, number=number, to=RevisionStatus.IN_REVIEW, by=anna, now=now),
    )
    yield (
        (began + 3) * _DAY,
        lambda now: record_review(
            tx, number=number, by=ravi, now=now, note="Read value by value against its sources."
        ),
    )
    yield (
        began * _DAY,
        lambda now: sign_revision(
            tx,
            number=number,
            fingerprint=prints[0],
            meaning="These are the limits our devices shall hold.",
            password=password_of(Role.MEDICAL_DIRECTOR),
            by=dana,
            now=now,
        ),
    )
