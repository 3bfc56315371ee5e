"""What is kept of an earlier look never shows in a later answer."""

from collections.abc import Iterator

import pytest

from app.domain.corridor import corridor
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.findings import Severity
from app.domain.outer_bounds import OuterBounds
from app.domain.rules import check
from app.lookups import policy_judged
from app.lookups.policy import OpenRevision, open_revision
from app.lookups.policy_judged import JudgedRevision, judged
from app.storage.database import Database
from tests.builders import NOW, a_document, a_draft, a_signed_revision, an_agency


@pytest.fixture(autouse=True)
def nothing_kept() -> Iterator[None]:
    policy_judged._last.clear()
    yield
    policy_judged._last.clear()


def opened(database: Database, high: int, number: int = 1) -> OpenRevision:
    with database.writing() as tx:
        a_draft(tx, document=a_document({"heart-rate-high": high}))
        return open_revision(tx, agency_id=an_agency(tx).id, number=number, now=NOW)


def versions(database: Database, *highs: int) -> list[OpenRevision]:
    """As if one draft had been edited: the same row, another text."""
    found = [opened(database, high, number) for number, high in enumerate(highs, start=1)]
    for one in found[1:]:
        object.__setattr__(one.revision, "id", found[0].revision.id)
    return found


def whole(found: OpenRevision) -> JudgedRevision:
    drawn = corridor(found.profile, found.profile_in_force, bounds=found.bounds)
    findings = check(found.profile, bounds=found.bounds)
    return JudgedRevision(found.profile, found.profile_in_force, found.bounds, findings, drawn)


def test_each_edit_is_judged_as_if_nothing_had_been_kept(sqlite_database: Database) -> None:
    found = versions(sqlite_database, 170, 185, 175)

    answers = [judged(one) for one in (*found, found[0])]

    assert answers == [whole(one) for one in (*found, found[0])]
    unsafe = [[f.severity for f in answer.findings].count(Severity.UNSAFE) for answer in answers]
    assert unsafe == [0, 1, 0, 0]


def test_what_did_not_change_is_taken_from_before(sqlite_database: Database) -> None:
    first, second = versions(sqlite_database, 170, 185)

    before, after = judged(first), judged(second)

    assert judged(second) is after
    kept = [
        lane for lane in after.corridor.lanes if any(lane is old for old in before.corridor.lanes)
    ]
    assert len(kept) == len(after.corridor.lanes) - 1


def test_other_bounds_make_everything_be_asked_again(sqlite_database: Database) -> None:
    (found,) = versions(sqlite_database, 185)
    assert judged(found).findings

    object.__setattr__(found, "bounds", OuterBounds("none", ()))

    assert judged(found) == whole(found)
    object.__setattr__(found, "bounds", DEFAULT_BOUNDS)
    assert judged(found) == whole(found)


def test_another_revision_in_force_is_drawn_behind_at_once(sqlite_database: Database) -> None:
    (found,) = versions(sqlite_database, 185)
    judged(found)
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        again = open_revision(tx, agency_id=an_agency(tx).id, number=1, now=NOW)

    assert judged(again).held is not None
    assert judged(again) == whole(again)
