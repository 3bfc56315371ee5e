"""Which devices a part of the wall has, and how the database counts them."""

from datetime import timedelta

import pytest
from sqlmodel import Session

from app.domain.known_devices import DeviceStatus
from app.domain.stretches import Stretch
from app.domain.tide_cells import TideCount
from app.lookups import fleet
from app.lookups.fleet import Wall, wall
from app.storage.database import Database
from tests.builders import (
    DAY,
    NOW,
    PRESET,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)

LATER = NOW + 100 * DAY
EVERY = ("neonate", "infant", PRESET, "school", "adult")
INSTANT = timedelta(microseconds=1)
UNSAFE, DIFFERS, NOT_JUDGED, HOLDS = (
    DeviceStatus.UNSAFE,
    DeviceStatus.DIFFERS,
    DeviceStatus.NOT_JUDGED,
    DeviceStatus.HOLDS,
)


def a_fleet(tx: Session) -> None:
    """At `LATER`: never, and read 0, 10, 90 (on the dot), 90 and a bit, and 100 days ago."""
    a_signed_revision(tx)
    a_device(tx, "never")
    a_device(tx, "loose")
    a_report(tx, as_signed(heart_rate_high=limit(200)), device="loose", read_at=LATER)
    whole(tx, "ten", read_days=timedelta(days=10))
    whole(tx, "edge", read_days=90 * DAY)
    whole(tx, "lapsed", read_days=90 * DAY + INSTANT)
    whole(tx, "tight", read_days=100 * DAY, heart_rate_high=limit(169))


def whole(tx: Session, tag: str, *, read_days: timedelta, **instead: object) -> None:
    a_device(tx, tag)
    for preset in EVERY:
        found = as_signed(preset, **(instead if preset == PRESET else {}))  # type: ignore[arg-type]
        a_report(tx, found, device=tag, preset=preset, read_at=LATER - read_days)


def seen(tx: Session, stretch: Stretch = fleet.WHOLE, *, first: int = 0) -> Wall:
    agency = a_person(tx).agency_id
    return wall(tx, agency_id=agency, now=LATER, stretch=stretch, first=first)


def tags(found: Wall) -> list[str]:
    return [one.mark.device.tag for one in found.devices]


@pytest.mark.parametrize(
    ("stretch", "found"),
    [
        (Stretch(), ["loose", "tight", "never", "lapsed", "edge", "ten"]),
        (Stretch("North"), ["loose", "tight", "never", "lapsed", "edge", "ten"]),
        (Stretch("South"), []),
        (Stretch(start=10), ["tight", "never", "lapsed", "edge", "ten"]),
        (Stretch(start=11), ["tight", "never", "lapsed", "edge"]),
        (Stretch(start=10, end=10), ["ten"]),
        (Stretch(end=9), ["loose"]),
        (Stretch(end=90), ["loose", "lapsed", "edge", "ten"]),
        (Stretch(start=90, end=99), ["lapsed", "edge"]),
        (Stretch(start=91), ["tight", "never"]),
        (Stretch(overdue=True), ["tight", "never", "lapsed"]),
        (Stretch(never=True), ["never"]),
        (Stretch(status=UNSAFE), ["loose"]),
        (Stretch(status=DIFFERS), ["tight"]),
        (Stretch(status=NOT_JUDGED), ["never", "lapsed"]),
        (Stretch(status=HOLDS), ["edge", "ten"]),
        (Stretch(status=NOT_JUDGED, end=90), ["lapsed"]),
    ],
)
def test_a_stretch_makes_the_list(database: Database, stretch: Stretch, found: list[str]) -> None:
    with database.writing() as tx:
        a_fleet(tx)

        told = seen(tx, stretch)

    assert tags(told) == found
    assert told.matching == len(found)


def test_the_database_counts_as_the_marks_say(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx)

        told = seen(tx)

    assert sorted(
        told.counts, key=lambda one: (one.column is not None, one.column or 0, one.status)
    ) == [
        TideCount("North", None, NOT_JUDGED, True, 1),
        TideCount("North", 0, HOLDS, False, 1),
        TideCount("North", 0, UNSAFE, False, 1),
        TideCount("North", 4, DIFFERS, True, 1),
        TideCount("North", 4, HOLDS, False, 1),
        TideCount("North", 4, NOT_JUDGED, True, 1),
    ]
    assert [(mark.device.tag, status) for mark, status in told.drawn or ()] == [
        (one.mark.device.tag, one.status) for one in told.devices
    ]


def test_a_long_list_comes_page_by_page(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fleet, "MOST_LISTED", 4)
    with database.writing() as tx:
        a_fleet(tx)

        pages = [tags(seen(tx, first=first)) for first in (0, 4, 8)]

    assert pages == [["loose", "tight", "never", "lapsed"], ["edge", "ten"], []]


@pytest.mark.parametrize(("most", "drawn"), [(6, 6), (5, None)])
def test_too_many_are_not_drawn_one_by_one(
    database: Database, monkeypatch: pytest.MonkeyPatch, most: int, drawn: int | None
) -> None:
    monkeypatch.setattr(fleet, "MOST_DRAWN", most)
    with database.writing() as tx:
        a_fleet(tx)

        told = seen(tx, Stretch(status=UNSAFE))

    assert (None if told.drawn is None else len(told.drawn)) == drawn
    assert sum(one.devices for one in told.counts) == 6
