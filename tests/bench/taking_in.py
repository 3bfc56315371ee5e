"""A file of readings taken in: read, held against what was signed, and stored, as one file.

The floor only splits the same text at its commas and keeps it: it checks, judges and indexes
nothing.
"""

import atexit
import csv
import multiprocessing
import random
import resource
import shutil
import sqlite3
import subprocess
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from sqlalchemy import insert

from app.actions.report_files import read_file, take_file
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.people import Person, Role
from app.storage.database import Database
from app.storage.devices import DeviceRow
from app.storage.migrating import open_database
from tests.bench.contests import Contest, Rival
from tests.builders import NOW, a_document, a_person, a_signed_revision

READINGS = (10_000, 100_000, 1_000_000, 3_600_000)  # the last: as large as a file may be
ALARMS = 40  # of each preset
_STRAYING = 0.002  # of all readings
_LATER = NOW + timedelta(hours=2)
_TABLE = "CREATE TABLE reading (device, read_at, state_read, preset, alarm, reading)"


def contest(readings: int) -> Contest:
    folder = Path(mkdtemp(prefix="marchstone-bench-"))
    atexit.register(shutil.rmtree, folder)
    intake = _intake(folder, readings)
    rivals = [Rival("executemany of the split rows", intake.split_and_kept, answers=False)]
    if shutil.which("sqlite3"):
        rivals.insert(0, Rival("sqlite3 .import of the same file", intake.imported, answers=False))
    return Contest(
        name="take in readings",
        size=f"{intake.readings:,} readings, peak {_peak_mib(intake.taken_in)} MiB",
        ours=Rival("read, judge and store the file", intake.taken_in),
        others=tuple(rivals),
        target="at most 1.5 × .import, 250 MiB",
        clock=_processor_time,
    )


def _processor_time() -> float:
    """Of this process and of the shells that it has waited for: both sides write to the same disk,
    and how long that takes tells of neither."""
    spent = map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in spent)


@dataclass(frozen=True)
class _Intake:
    folder: Path
    readings: int
    person: Person

    @property
    def file(self) -> Path:
        return self.folder / "readings.csv"

    def taken_in(self) -> int:
        """Into a copy of the database that knows the devices, and nothing of what they hold."""
        path = self.folder / "ours.sqlite3"
        shutil.copyfile(self.folder / "empty.sqlite3", path)
        database = Database(f"sqlite:///{path}")
        with self.file.open("rb") as content:
            with database.reading() as tx:
                read = read_file(tx, content=content, by=self.person, now=_LATER)
            with database.writing() as tx:
                taken = take_file(tx, content=content, by=self.person, now=_LATER, read=read)
        database.dispose()
        return taken.readings

    def imported(self) -> None:
        told = [_TABLE, ".mode csv", f".import --skip 1 {self.file} reading"]
        subprocess.run(["sqlite3", str(self._fresh()), *told], check=True)  # noqa: S607

    def split_and_kept(self) -> None:
        with closing(sqlite3.connect(self._fresh())) as kept, self.file.open() as text:
            kept.execute(_TABLE)
            rows = csv.reader(text)
            next(rows)
            kept.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?)", rows)
            kept.commit()

    def _fresh(self) -> Path:
        path = self.folder / "theirs.sqlite3"
        path.unlink(missing_ok=True)
        return path


def _intake(folder: Path, readings: int) -> _Intake:
    document = wide_document()
    presets = document["settings"]
    devices = -(-readings // (len(presets) * ALARMS))
    database = open_database(f"sqlite:///{folder / 'empty.sqlite3'}", now=NOW)
    with database.writing() as tx:
        a_signed_revision(tx, document=document)
        person = a_person(tx, Role.FLEET_MANAGER)
        fixed = {"agency_id": person.agency_id, "model": "dunlin", "station": "N"}
        rows = [{"tag": _tag(n), "created_at": NOW, **fixed} for n in range(devices)]
        tx.execute(insert(DeviceRow), rows)
    database.dispose()
    with (folder / "readings.csv").open("w") as text:
        text.write("device,read_at,state_read,preset,alarm,reading\n")
        text.writelines(_lines(presets, devices))
    return _Intake(folder, devices * len(presets) * ALARMS, person)


def _tag(n: int) -> str:
    return f"boat-{n:05d}"


def _lines(presets: dict[str, Any], devices: int) -> Iterator[str]:
    dice = random.Random(20261125)  # noqa: S311 - no secret
    for n in range(devices):
        for preset, settings in presets.items():
            head = f"{_tag(n)},2026-03-02T09:00:{n % 60:02d}Z,power-on,{preset}"
            for alarm in _alarms():
                yield f"{head},{alarm},{_written(settings[alarm], dice)}\n"


def as_told(settings: dict[str, Any]) -> list[tuple[str, str]]:
    """Each alarm of a preset as it was signed, in the words of a file."""
    return [(alarm, _as_signed(settings[alarm])) for alarm in _alarms()]


def _as_signed(setting: dict[str, Any], astray: float = 0) -> str:
    if setting["state"] != "on":
        return "off"
    return "on" if setting["limit"] is None else f"{setting['limit'] + astray:g}"


def _written(setting: dict[str, Any], dice: random.Random) -> str:
    strays = dice.random() < _STRAYING
    return _as_signed(setting, dice.choice((-10, -5, 5, 10)) if strays else 0)


@cache
def _alarms() -> list[str]:
    """The limits first: most of what a device holds are numbers."""
    return sorted(ALARM_CONDITIONS, key=lambda alarm: not ALARM_CONDITIONS[alarm].vital_sign)[
        :ALARMS
    ]


def wide_document() -> dict[str, Any]:
    """A policy that sets nearly every alarm on."""
    document = a_document()
    like = document["settings"]["adult"]["heart-rate-low"]
    for settings in document["settings"].values():
        for alarm in _alarms():
            condition = ALARM_CONDITIONS[alarm]
            if condition.vital_sign and not alarm.startswith("spo2"):
                share = 0.3 if alarm.endswith("low") else 0.7
                span = float(condition.most - condition.least)
                limit = round(float(condition.least) + span * share)
                if settings[alarm]["state"] != "on":
                    settings[alarm] = {**like, "limit": limit}
    return document


def _peak_mib(run: Callable[[], object]) -> int:
    """Of a process that does nothing else, from beginning to end."""
    alone = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=1, mp_context=alone) as processes:
        return processes.submit(_peak_of, run).result()


def _peak_of(run: Callable[[], object]) -> int:
    """By the kernel's own mark, where there is one: `ru_maxrss` of a process that another one
    started begins with what that one had (proc(5), getrusage(2))."""
    run()
    status = Path("/proc/self/status")
    if status.exists():
        marks = [line for line in status.read_text().splitlines() if line.startswith("VmHWM")]
        return int(marks[0].split()[1]) // 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
