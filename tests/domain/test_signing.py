from datetime import UTC, date, datetime
from typing import Any

import pytest

from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.revision_comments import Comment, Resolution
from app.domain.signing import BeforeSigning, before_signing
from app.domain.waivers import Waiver
from app.exchange.profile_json import profile_from_document
from tests.builders import a_document
from tests.domain.test_waivers import a_waiver

TODAY = date(2026, 3, 2)
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
UNSAFE = a_document({"heart-rate-high": 185})
OPEN = Comment(1, "preschool", "asystole", "why latching?", "Ravi", NOW)
DONE = Comment(2, None, None, "a nice one", "Ravi", NOW, Resolution("Anna", NOW, "thanks"))


def before(
    document: dict[str, Any], waivers: tuple[Waiver, ...] = (), comments: tuple[Comment, ...] = ()
) -> BeforeSigning:
    profile = profile_from_document({**document, "agency": "Skerry Ambulance"})
    return before_signing(profile, bounds=DEFAULT_BOUNDS, waivers=waivers, comments=comments)


def waiver_of_the_gap(until: date) -> Waiver:
    (unsafe,) = before(UNSAFE).unsafe
    return a_waiver(finding=unsafe.key, until=until)


def blank() -> dict[str, Any]:
    document = a_document()
    del document["settings"]["school"]["apnoea"]["priority"]
    return document


@pytest.mark.parametrize(
    ("document", "until", "comments", "columns"),
    [
        (a_document(), None, (), []),
        (a_document(), None, (DONE,), []),
        (a_document(), None, (OPEN, DONE), ["preschool asystole"]),
        (blank(), None, (), ["school apnoea"]),
        (UNSAFE, None, (), ["silent-gap"]),
        (UNSAFE, date(2026, 3, 1), (), ["silent-gap"]),
        (UNSAFE, date(2026, 3, 2), (), []),
        (UNSAFE, date(2026, 3, 3), (OPEN,), ["preschool asystole"]),
    ],
)
def test_what_stands_in_the_way(
    document: dict[str, Any],
    until: date | None,
    comments: tuple[Comment, ...],
    columns: list[str],
) -> None:
    waivers = () if until is None else (waiver_of_the_gap(until),)

    found = before(document, waivers, comments)

    assert [fault.column for fault in found.faults(TODAY)] == columns
    assert found.is_clear(TODAY) is (columns == [])


def test_a_waiver_that_ends_before_the_beginning_says_so() -> None:
    found = before(UNSAFE, (waiver_of_the_gap(date(2026, 3, 20)),))

    assert found.is_clear(date(2026, 3, 20))
    (fault,) = found.faults(date(2026, 3, 21))
    assert "its waiver holds only until 20 Mar 2026" in fault.reason


def test_the_signature_takes_the_waivers_that_cover_and_leaves_the_void() -> None:
    covers, void = waiver_of_the_gap(date(2026, 4, 1)), a_waiver(finding="0" * 64)

    found = before(UNSAFE, (covers, void))

    assert found.waived(TODAY) == (covers,)
    assert found.void == (void,)


def test_a_comment_on_the_whole_revision_is_told_as_such() -> None:
    general = Comment(3, None, None, "wait", "Ravi", NOW)

    (fault,) = before(a_document(), comments=(general,)).faults(TODAY)

    assert (fault.column, fault.reason) == ("comment", "comment of Ravi not resolved")
