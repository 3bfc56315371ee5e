"""The options of a device are a job of a changeover like each of its presets."""

from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session

from app.domain.changeover_jobs import JobState
from app.domain.device_reports import CouldNotRead, FoundOn, FoundText, Origin, Reading
from app.domain.option_judgement import ANY_PRESET
from app.lookups.changeover_changes import changes_of
from app.lookups.changeover_jobs import Changeover, changeover
from app.storage.database import Database
from tests.builders import (
    DAY,
    NOW,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
)

BEGAN = NOW + DAY
EVERY = ("neonate", "infant", "preschool", "school", "adult")
HELD: dict[str, Reading] = {"audio-volume": FoundOn(Decimal(80)), "default-lead": FoundText("II")}


def policy(volume: int) -> dict[str, Any]:
    told = {"audio-volume": volume, "default-lead": "II"}
    options = {key: {"value": value, "reason": "agreed"} for key, value in told.items()}
    return {**a_document(), "options": options}


def read_before(tx: Session, *, volume: int) -> None:
    """All of the boat, under the revision before the one that asks for this volume."""
    a_signed_revision(tx, document=policy(80))
    a_device(tx)
    for preset in EVERY:
        a_report(tx, as_signed(preset), preset=preset)
    a_report(tx, HELD, preset=ANY_PRESET)
    a_signed_revision(tx, document=policy(volume), now=BEGAN)


def see(tx: Session) -> Changeover:
    return changeover(tx, agency_id=a_person(tx).agency_id, now=BEGAN + 2 * DAY)


def options_job(found: Changeover) -> JobState:
    (boat,) = found.devices
    return next(job.state for job in boat.jobs if job.preset == ANY_PRESET)


def test_a_changed_option_is_to_be_set(database: Database) -> None:
    with database.writing() as tx:
        read_before(tx, volume=90)
        found = see(tx)
        (boat,) = found.devices
        told = {
            one.job.preset: [line.alarm for line in one.lines] for one in changes_of(found, boat)
        }

    assert options_job(found) is JobState.NOT_SINCE
    assert told[ANY_PRESET] == ["audio-volume"]
    assert not boat.done


def test_options_on_which_nothing_changes_hold_already(database: Database) -> None:
    with database.writing() as tx:
        read_before(tx, volume=80)
        found = see(tx)

    assert options_job(found) is JobState.HOLDS


@pytest.mark.parametrize(
    ("readings", "more", "state"),
    [
        (HELD | {"audio-volume": FoundOn(Decimal(90))}, {}, JobState.VERIFIED),
        (
            HELD | {"audio-volume": FoundOn(Decimal(90))},
            {"origin": Origin.FILE},
            JobState.NOT_BLIND,
        ),
        (HELD, {}, JobState.DIFFERS),
        (HELD | {"audio-volume": FoundText("off")}, {}, JobState.UNSAFE),
    ],
)
def test_only_a_conforming_blind_reading_verifies(
    database: Database, readings: dict[str, Reading], more: dict[str, Any], state: JobState
) -> None:
    with database.writing() as tx:
        read_before(tx, volume=90)
        a_report(tx, readings, preset=ANY_PRESET, read_at=BEGAN + DAY, **more)
        found = see(tx)

    assert options_job(found) is state
    assert found.devices[0].done is (state is JobState.VERIFIED)


def test_what_could_not_be_read_is_nothing_to_set(database: Database) -> None:
    with database.writing() as tx:
        read_before(tx, volume=90)
        dark: dict[str, Reading] = {key: CouldNotRead("dark") for key in HELD}
        a_report(tx, dark, preset=ANY_PRESET, read_at=BEGAN + DAY)
        found = see(tx)
        (boat,) = found.devices
        told = {one.job.preset: one.lines for one in changes_of(found, boat)}

    assert told[ANY_PRESET] == ()


def test_a_policy_without_options_makes_no_job_of_them(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        found = see(tx)

    assert [job.preset for job in found.devices[0].jobs] == list(EVERY)
