import pytest

from app.domain.bounds_versions import BoundsStatus
from app.domain.comparison import Direction
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.errors import NotFound
from app.lookups.fleet import report
from app.lookups.outer_bounds import agency_bounds, bounds_in_force, open_bounds
from app.lookups.policy import open_revision
from app.storage.database import Database
from tests.adopted_bounds import LOOSER, STRICTER, adopted_bounds, drafted_bounds
from tests.builders import (
    DAY,
    MINUTE,
    NOW,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    olu,
)

FIRST, SECOND = "version 1, signed by Dana", "version 2, signed by Dana"
DRAFT, SIGNED = BoundsStatus.DRAFT, BoundsStatus.SIGNED
IN_FORCE, SUPERSEDED = BoundsStatus.IN_FORCE, BoundsStatus.SUPERSEDED


def test_the_default_judges_until_the_minute_in_which_an_own_version_begins(
    database: Database,
) -> None:
    with database.writing() as tx:
        adopted_bounds(tx, in_force_at=NOW + DAY)
        adopted_bounds(tx, LOOSER, in_force_at=NOW + 2 * DAY)
        agency = a_person(tx).agency_id

        held = [
            bounds_in_force(tx, agency_id=agency, at=at).name
            for at in (
                NOW + DAY - MINUTE,
                NOW + DAY,
                NOW + 2 * DAY - MINUTE,
                NOW + 2 * DAY,
            )
        ]

    assert held == [DEFAULT_BOUNDS.name, FIRST, FIRST, SECOND]


def test_a_later_version_replaces_one_that_has_yet_to_begin(database: Database) -> None:
    with database.writing() as tx:
        adopted_bounds(tx, in_force_at=NOW + 2 * DAY)
        adopted_bounds(tx, LOOSER)
        agency = a_person(tx).agency_id

        assert bounds_in_force(tx, agency_id=agency, at=NOW + 3 * DAY).name == SECOND


def test_versions_come_newest_first_with_what_the_clock_makes_of_them(database: Database) -> None:
    with database.writing() as tx:
        adopted_bounds(tx)
        adopted_bounds(tx, LOOSER, now=NOW + DAY)
        adopted_bounds(tx, now=NOW + DAY, in_force_at=NOW + 3 * DAY)
        drafted_bounds(tx)
        found = agency_bounds(tx, agency_id=a_person(tx).agency_id, now=NOW + 2 * DAY)

    assert [(one.version.number, one.status) for one in found.versions] == [
        (4, DRAFT),
        (3, SIGNED),
        (2, IN_FORCE),
        (1, SUPERSEDED),
    ]
    assert found.version is not None
    assert found.version.number == 2
    assert found.in_force.name == SECOND


def test_a_version_stands_beside_what_is_in_force_and_beside_the_default(
    database: Database,
) -> None:
    with database.writing() as tx:
        adopted_bounds(tx, LOOSER)
        drafted_bounds(tx, STRICTER)
        found = open_bounds(tx, agency_id=a_person(tx).agency_id, number=2, now=NOW)

    (change,) = found.against_in_force
    assert (change.lean, change.sentence) == (
        Direction.TIGHTER,
        "Heart rate, 1 y to 5 y: above 170 /min is danger, and above 230 /min was danger before.",
    )
    assert [change.before and str(change.before) for change in found.against_default] == ["180"]
    assert found.policy is None


def test_what_it_makes_of_the_policy_in_force_is_told(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, document=a_document({"heart-rate-high": 175}))
        drafted_bounds(tx)
        agency = a_person(tx).agency_id
        ahead = open_bounds(tx, agency_id=agency, number=1, now=NOW).policy
        adopted_bounds(tx)
        drafted_bounds(tx, LOOSER)
        back = open_bounds(tx, agency_id=agency, number=3, now=NOW).policy

    assert ahead is not None
    assert back is not None
    assert (ahead.revision, ahead.unsafe_before) == (1, ())
    assert [found.alarms[0] for found in ahead.newly_unsafe] == ["heart-rate-high"]
    assert back.newly_unsafe == ()
    assert [found.alarms[0] for found in back.unsafe_before] == ["heart-rate-high"]


def test_an_open_revision_and_a_report_know_what_judges_them(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        agency = a_person(tx).agency_id
        before = a_report(tx)
        adopted_bounds(tx, now=NOW + DAY)
        after = a_report(tx, read_at=NOW + DAY)

        named = [report(tx, agency_id=agency, report_id=one.id).bounds for one in (before, after)]
        opened = open_revision(tx, agency_id=agency, number=1, now=NOW + DAY)

    assert named == [DEFAULT_BOUNDS.name, FIRST]
    assert opened.bounds.name == FIRST


def test_an_outsider_finds_nothing(database: Database) -> None:
    with database.writing() as tx:
        adopted_bounds(tx)
        elsewhere = olu(tx).agency_id

        assert agency_bounds(tx, agency_id=elsewhere, now=NOW).versions == ()
        with pytest.raises(NotFound):
            open_bounds(tx, agency_id=elsewhere, number=1, now=NOW)
