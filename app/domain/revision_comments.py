"""What people say of a revision before it is signed, and what was done about it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.domain.errors import NotNow
from app.domain.moves import RevisionStatus

_OPEN_TO_WORDS = frozenset({RevisionStatus.DRAFT, RevisionStatus.IN_REVIEW})


@dataclass(frozen=True)
class Resolution:
    by_name: str
    at: datetime
    done: str


@dataclass(frozen=True)
class Comment:
    """On one cell of the grid, or on the whole revision: then category and alarm are None."""

    id: int
    category: str | None
    alarm: str | None
    text: str
    by_name: str
    written_at: datetime
    resolution: Resolution | None = None


def unresolved(comments: Iterable[Comment]) -> tuple[Comment, ...]:
    return tuple(comment for comment in comments if comment.resolution is None)


def comments_at(comments: Iterable[Comment], category: str, alarm: str) -> tuple[Comment, ...]:
    return tuple(one for one in comments if (one.category, one.alarm) == (category, alarm))


def check_open_to_words(status: RevisionStatus) -> None:
    if status not in _OPEN_TO_WORDS:
        raise NotNow(f"This revision is {status.words}; comments are made before it is signed.")
