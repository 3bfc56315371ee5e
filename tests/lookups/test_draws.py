from typing import Any

from sqlmodel import Session

from app.domain.device_reports import Origin
from app.lookups.draws import DrawPage, draw_page
from app.storage.database import Database
from tests.actions.test_draws import a_draw
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)

PRESETS = ("newborn", "infant", "preschool", "school", "adult")


def a_drawn_boat(tx: Session) -> None:
    a_signed_revision(tx)
    a_device(tx)
    a_draw(tx)


def seen(tx: Session) -> DrawPage:
    return draw_page(tx, agency_id=a_person(tx).agency_id, number=1, now=NOW + DAY)


def read_all(tx: Session, **instead: Any) -> None:
    for number, preset in enumerate(offered(tx)):
        a_report(tx, as_signed(preset), preset=preset, read_at=NOW + (number + 1) * HOUR, **instead)


def offered(tx: Session) -> tuple[str, ...]:
    return seen(tx).devices[0].wanted


def test_before_anything_is_read_every_preset_is_wanted(database: Database) -> None:
    with database.writing() as tx:
        a_drawn_boat(tx)
        page = seen(tx)

    assert not page.devices[0].read
    assert len(page.devices[0].wanted) == 5
    assert page.statement.most_off is None


def test_a_device_is_read_once_every_preset_is(database: Database) -> None:
    with database.writing() as tx:
        a_drawn_boat(tx)
        read_all(tx)
        page = seen(tx)

    assert page.devices[0].read
    assert page.statement.words == "All 1 devices read, none off. This is a count, no estimate."


def test_what_was_read_before_the_draw_tells_nothing(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx, read_at=NOW)
        a_draw(tx)

        assert seen(tx).devices[0].reports == ()


def test_a_file_is_no_blind_reading(database: Database) -> None:
    with database.writing() as tx:
        a_drawn_boat(tx)
        a_report(tx, read_at=NOW + HOUR, origin=Origin.FILE)

        assert seen(tx).devices[0].reports == ()


def test_what_was_found_counts_and_not_what_was_put_right(database: Database) -> None:
    with database.writing() as tx:
        a_drawn_boat(tx)
        a_report(tx, as_signed(heart_rate_high=limit(200)), read_at=NOW + HOUR)
        a_report(tx, as_signed(), read_at=NOW + 2 * HOUR)

        assert seen(tx).devices[0].off


def test_a_partial_reading_leaves_its_preset_wanted(database: Database) -> None:
    with database.writing() as tx:
        a_drawn_boat(tx)
        whole = dict(as_signed())
        whole.popitem()
        a_report(tx, whole, read_at=NOW + HOUR)

        assert len(seen(tx).devices[0].wanted) == 5
