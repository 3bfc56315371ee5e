from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session

from app.domain.comparison import Direction
from app.domain.device_reports import NotRead, StateRead
from app.domain.errors import NotFound
from app.domain.option_judgement import ANY_PRESET
from app.domain.profiles import Option
from app.domain.settings_of_alarms import show_number
from app.lookups.past import PastPage, past
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)

STRAYED = as_signed(heart_rate_high=limit(200))


AVERAGING = "spo2-averaging-s"


def with_averaging(seconds: int) -> dict[str, Any]:
    option = {"value": seconds, "reason": "ours", "source": "common practice"}
    return {**a_document(), "options": {AVERAGING: option}}


def on(tx: Session, day: int) -> PastPage:
    return past(tx, agency_id=a_person(tx).agency_id, tag="boat-3", at=NOW + day * DAY)


def test_the_revision_of_that_day_says_what_it_should_have_held(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_signed_revision(tx, in_force_at=NOW + 3 * DAY)
        before, after = on(tx, 2), on(tx, 3)

    assert before.revision is not None
    assert after.revision is not None
    assert (before.revision.number, after.revision.number) == (1, 2)


def test_the_last_reading_before_then_is_shown(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx)
        a_report(tx, STRAYED, read_at=NOW + 2 * DAY, state_read=StateRead.IN_USE)
        early, late = on(tx, 1), on(tx, 2)

    def read(page: PastPage) -> object:
        [preset] = [one for one in page.presets if one.preset == PRESET]
        return {line.alarm: line.found for line in preset.lines}["heart-rate-high"]

    assert read(early) == as_signed()["heart-rate-high"]
    assert read(late) == limit(200)


def test_before_the_first_signing_nothing_was_to_be_held(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        page = past(tx, agency_id=a_person(tx).agency_id, tag="boat-3", at=NOW - HOUR)

    assert (page.revision, page.presets) == (None, ())


def test_a_preset_never_read_says_so_line_by_line(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        page = on(tx, 1)

    assert all(isinstance(line.found, NotRead) for one in page.presets for line in one.lines)


def test_another_agency_finds_no_such_device(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)
        with pytest.raises(NotFound):
            past(tx, agency_id=olu(tx).agency_id, tag="boat-3", at=NOW)


def test_options_stand_beside_what_the_revision_of_that_day_asked(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, document=with_averaging(8))
        a_device(tx)
        a_report(tx, {AVERAGING: limit(8)}, preset=ANY_PRESET)
        a_signed_revision(tx, document=with_averaging(4), in_force_at=NOW + 3 * DAY)
        before, after = on(tx, 2), on(tx, 3)

    def line(page: PastPage) -> tuple[str, object]:
        [options] = [one for one in page.presets if one.preset == ANY_PRESET]
        [found] = options.lines
        assert isinstance(found.signed, Option)
        return show_number(Decimal(str(found.signed.value))), options.direction(found)

    assert line(before) == ("8", None)
    assert line(after) == ("4", Direction.OTHER)


def test_options_that_nobody_read_are_told_as_well(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, document=with_averaging(8))
        a_device(tx)
        page = on(tx, 1)

    [options] = [one for one in page.presets if one.preset == ANY_PRESET]
    assert options.asked
    assert [(line.alarm, line.found) for line in options.lines] == [(AVERAGING, NotRead())]


def test_what_was_off_says_which_way(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx, STRAYED)
        page = on(tx, 1)

    [preset] = [one for one in page.presets if one.preset == PRESET]
    told = {line.alarm: preset.direction(line) for line in preset.lines}
    assert told.pop("heart-rate-high") is Direction.LOOSER
    assert not any(told.values())
