"""Many reports at once leave the same rows as one by one."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial
from io import BytesIO
from random import Random
from typing import Any, TypeVar

import pytest
import sqlalchemy as sa
from sqlmodel import Session, SQLModel

from app.actions.bulk_reports import store_reports
from app.actions.report_files import take_file
from app.actions.reports import checked, ruling_at, store_report
from app.domain.block_reports import BlockReports
from app.domain.device_reports import Origin
from app.domain.file_lines import FileLines
from app.domain.new_reports import NewReport
from app.domain.people import Person, Role
from app.domain.reading_sets import BlockReport
from app.exchange.judged_files import judge_file
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_files import read_report_file
from app.storage import devices, outer_bounds, revisions
from app.storage.agencies import agency_by_id
from app.storage.database import Database
from app.storage.engine import for_writing
from app.storage.report_origins import report_origin
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.reading_files import HEADER
from tests.storage.ledgers import bodies

LATER = NOW + 20 * DAY
PRESETS = ("neonate", "infant", "preschool", "school", "adult")
STATES = ("power-on", "power-on", "after-category", "in-use", "stored-preset")
READINGS = {
    "heart-rate-low": ("75,,,", "75,/min,high,", "40,,,", "off,,,", "90,,medium,15", "200,,,"),
    "heart-rate-high": ("170,,,", "200,,,", "not-fitted,,,", "could-not-read: dark,,,"),
    "heart-rate-high.deep": ("190,,high,0", "off,,,"),
    "respiratory-rate-high": ("50,,,", "70,,,", "30.5,,,"),
    "spo2-low": ("90,,high,", "85,,,", "off,,,", "60,,low,"),
    "spo2-high": ("off,,,", "100,,,"),
    "asystole": ("on,,high,", "off,,,", "on,,low,"),
    "ventricular-fibrillation": ("on,,,", "not-fitted,,,"),
    "ventricular-tachycardia": ("on,,,", "off,,,"),
    "apnoea": ("20,,,", "40,,,", "off,,,"),
    "airway-apnoea": ("20,,,", "off,,,"),
    "etco2-low": ("4.1,kPa,,", "30,,,"),
    "nibp-systolic-low": ("80,,,", "70,,,"),
}


def random_file(dice: Random) -> bytes:
    rows = [f"{HEADER},unit,priority,delay_s,software,minutes_off"]
    for _ in range(dice.randint(4, 14)):
        device, preset = dice.choice(("boat-1", "boat-2", "boat-3")), dice.choice(PRESETS)
        at = NOW + timedelta(minutes=dice.randint(1, 60 * 24 * 20))
        head = f"{device},{at.isoformat()},{dice.choice(STATES)},{preset}"
        told = dice.choice(("4.1,", "4.2,30", ",1"))
        alarms = dice.sample(sorted(READINGS), dice.randint(1, len(READINGS)))
        rows += [f"{head},{alarm},{dice.choice(READINGS[alarm])},{told}" for alarm in alarms]
    first, *rest = rows
    if dice.random() < 0.5:
        dice.shuffle(rest)
    return "\n".join([first, *rest, ""]).encode()


def ready(tx: Session) -> None:
    """With something known of boat-1, and a policy and a choice that change half-way."""
    a_signed_revision(tx)
    for tag in ("boat-1", "boat-2", "boat-3"):
        a_device(tx, tag)
    a_report(tx, as_signed(heart_rate_high=limit(200), spo2_low=limit(60)), device="boat-1")
    a_report(
        tx, as_signed("adult"), device="boat-1", preset="adult", read_at=NOW + HOUR, minutes_off=90
    )
    for preset in PRESETS:  # so that some of what the file brings comes late
        later = {"spo2-low": limit(90), "heart-rate-high": limit(200)}
        a_report(tx, later, device="boat-2", preset=preset, read_at=NOW + 9 * DAY)
    a_signed_revision(tx, document=a_document({"heart-rate-high": 175}), in_force_at=NOW + 10 * DAY)


def known_to(tx: Session, femi: Person) -> KnownFleet:
    return KnownFleet(
        devices.models_of(tx, femi.agency_id),
        revisions.policies_of(tx, femi.agency_id),
        outer_bounds.bounds_versions(tx, femi.agency_id),
        agency_by_id(tx, femi.agency_id).choices,
    )


def one_by_one(tx: Session, found: BlockReports, femi: Person) -> None:
    for one in sorted(found, key=lambda report: report.read_at):
        ruling = ruling_at(tx, agency_id=femi.agency_id, at=one.read_at)
        device = devices.device_tagged(tx, agency_id=femi.agency_id, tag=one.device)
        report = checked(as_new(one), now=LATER)
        store_report(tx, device, report, ruling, by=femi, now=LATER)


def as_new(one: BlockReport) -> NewReport:
    return NewReport(
        device=one.device,
        preset=one.preset,
        state_read=one.state_read,
        readings=one.found.readings,
        read_at=one.read_at,
        idempotency_key=one.key,
        software=one.told.software,
        trigger=one.told.trigger,
        minutes_off=one.told.minutes_off,
        reader=one.told.reader,
        device_clock=one.told.device_clock,
        origin=Origin.FILE,
    )


def at_once(tx: Session, found: BlockReports, femi: Person) -> None:
    known = known_to(tx, femi)
    tags = devices.lock_many(tx, agency_id=femi.agency_id, tags=found.tags)
    rows = {line.number: line.id for line, _ in known.policies}
    judged, lines = judge_file(found, known), FileLines()
    lines.add(2, 1000)
    source = "f" * 64, lines
    store_reports(tx, judged, devices=tags, revisions=rows, source=source, by=femi, now=LATER)


LEFT = {
    "report": ("id", "device_id", "read_at", "state_read", "preset", "minutes_off", "software",
               "trigger", "reader_id", "revision_id", "received_at", "model", "vals", "extras",
               "idempotency_key", "origin", "reader_told", "device_clock"),
    "deviation": ("report_id", "alarm", "direction", "severity"),
    "device_now": None,
    "device_presets": None,
    "finding": None,
    "finding_event": None,
}  # fmt: skip
"""Whole rows but for their own numbers; inputs and layouts are compared by what they hold."""


def left_by(tx: Session) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    wanted_layouts = sa.text("SELECT id, columns FROM layout")
    layouts: dict[int, str] = {row.id: row.columns for row in tx.execute(wanted_layouts)}
    place = {
        number: tuple(place)
        for number, *place in tx.execute(
            sa.text("SELECT id, device_id, preset, alarm, kind FROM finding ORDER BY id")
        )
    }
    for name, columns in LEFT.items():
        table = SQLModel.metadata.tables[name]
        wanted = [column for column in table.columns if columns is None or column.name in columns]
        rows = [dict(row) for row in tx.execute(sa.select(*wanted)).mappings()]
        for row in rows:
            if "layout_id" in row:
                row["layout_id"] = layouts[row["layout_id"]]
            if name.startswith("finding"):
                row.pop("id")
            if name == "finding_event":
                row["finding_id"] = place[row["finding_id"]]
        found[name] = sorted(repr(sorted(row.items())) for row in rows)
    numbers = tx.execute(sa.text("SELECT id FROM report ORDER BY id")).scalars()
    found["inputs"] = [report_origin(tx, number).text for number in numbers]
    return found


def both_ways(database: Database, content: bytes) -> Iterator[dict[str, list[Any]]]:
    for way in (one_by_one, at_once):
        yield undone(database, partial(_by, way=way, content=content))


def _by(tx: Session, *, way: Callable[..., None], content: bytes) -> dict[str, list[Any]]:
    _number_anew(tx)
    femi = a_person(tx, Role.FLEET_MANAGER)
    file = read_report_file(BytesIO(content), known_to(tx, femi), now=LATER)
    assert not file.faults
    way(tx, file.reports, femi)
    return left_by(tx)


Found = TypeVar("Found")


def undone(database: Database, look: Callable[[Session], Found]) -> Found:
    """What it found; whatever it wrote is taken back."""
    with Session(for_writing(database.engine)) as tx:
        return look(tx)


def _number_anew(tx: Session) -> None:
    """PostgreSQL never takes a number back by itself."""
    if tx.get_bind().dialect.name == "postgresql":
        sequence = "pg_get_serial_sequence('report', 'id')"
        tx.execute(sa.text(f"SELECT setval({sequence}, (SELECT max(id) FROM report))"))


@pytest.mark.parametrize("seed", range(4))
def test_the_same_file_leaves_the_same_rows(database: Database, seed: int) -> None:
    with database.writing() as tx:
        ready(tx)
    dice = Random(seed)  # noqa: S311 - no secret
    for _ in range(4):
        single, bulk = both_ways(database, random_file(dice))

        for table, rows in single.items():
            assert bulk[table] == rows, table


def test_the_digest_changes_with_a_value(sqlite_database: Database) -> None:
    def digest(tx: Session, value: int) -> str:
        ready(tx)
        row = f"boat-2,{NOW.isoformat()},power-on,preschool,heart-rate-high,{value}\n"
        content = BytesIO(f"{HEADER}\n{row}".encode())
        take_file(tx, content=content, by=a_person(tx, Role.FLEET_MANAGER), now=LATER)
        return str(bodies(tx)[-2]["about"]["digest"])

    first, other, again = (
        undone(sqlite_database, partial(digest, value=value)) for value in (170, 171, 170)
    )

    assert first == again != other
