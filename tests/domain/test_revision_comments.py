from datetime import UTC, datetime

import pytest

from app.domain.errors import NotNow
from app.domain.moves import RevisionStatus
from app.domain.revision_comments import (
    Comment,
    Resolution,
    check_open_to_words,
    comments_at,
    unresolved,
)

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
OPEN = Comment(1, "preschool", "asystole", "why?", "Ravi", NOW)
DONE = Comment(2, "preschool", "asystole", "why?", "Ravi", NOW, Resolution("Anna", NOW, "so"))
GENERAL = Comment(3, None, None, "wait", "Ravi", NOW)


@pytest.mark.parametrize("status", RevisionStatus)
def test_words_are_taken_until_the_signature(status: RevisionStatus) -> None:
    if status in (RevisionStatus.DRAFT, RevisionStatus.IN_REVIEW):
        check_open_to_words(status)
    else:
        with pytest.raises(NotNow, match=status.words):
            check_open_to_words(status)


def test_a_resolved_comment_is_no_longer_open() -> None:
    assert unresolved([OPEN, DONE, GENERAL]) == (OPEN, GENERAL)


@pytest.mark.parametrize(
    ("category", "alarm", "found"),
    [
        ("preschool", "asystole", (OPEN, DONE)),
        ("preschool", "apnoea", ()),
        ("infant", "asystole", ()),
    ],
)
def test_a_cell_has_its_own_comments(category: str, alarm: str, found: tuple[Comment, ...]) -> None:
    assert comments_at([OPEN, DONE, GENERAL], category, alarm) == found
