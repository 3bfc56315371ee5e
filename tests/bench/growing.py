"""`python -m tests.bench.growing`: how pages and long work grow with the fleet, on either database.

A fleet is made once, ten and a hundred times as large through the same actions as a real one; what
is printed is each time the ratio to the smallest. `--devices 1000` ends at 100,000 devices with 8
million readings, each of them the latest of its device; the default shows the same of a twentieth.
"""

import argparse
import io
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path

import sqlalchemy as sa
from starlette.testclient import TestClient

from app.actions.reaudits import reaudit
from app.actions.report_files import read_file, take_file
from app.actions.sign_ins import sign_in
from app.domain.people import Person, Role
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.storage.devices import DeviceRow
from app.storage.migrating import open_database
from app.web.sessions import COOKIE
from tests import postgresql_server
from tests.bench.taking_in import as_told, wide_document
from tests.builders import DAY, NOW, PASSWORD, a_person, a_signed_revision
from tests.reading_files import HEADER

TIMES = (1, 10, 100)
IN_A_FILE = 2000  # devices: 160,000 readings
STATIONS = 40
MOVED = 50  # devices of the file that is taken in at each size
PRESETS = ("preschool", "adult")  # with 40 alarms each
Timed = dict[str, float]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.growing", description=__doc__)
    parser.add_argument("--devices", type=int, default=MOVED, help="of the smallest fleet")
    parser.add_argument("--turns", type=int, default=5, help="medians of how many")
    given = parser.parse_args()
    if given.devices < MOVED:
        parser.error(f"--devices: at least {MOVED}")
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="ms-growing-")))
        print_growth("SQLite", lambda n: f"sqlite:///{folder}/{n}.sqlite3", given, folder)
        server = postgresql_server.start(stack)
        if server is None:
            print(postgresql_server.MISSING)
        else:
            print_growth("PostgreSQL", lambda n: _new_database(server, n), given, folder)


def _new_database(server: str, number: int) -> str:
    engine = sa.create_engine(server, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE growing_{number}")
    engine.dispose()
    named = sa.make_url(server).set(database=f"growing_{number}")
    return named.render_as_string(hide_password=False)


def print_growth(
    name: str, url_of: Callable[[int], str], given: argparse.Namespace, folder: Path
) -> None:
    first: Timed = {}
    for times in TIMES:
        found = growth(url_of(times), given.devices * times, given.turns, folder)
        first = first or found
        told = ", ".join(f"{what} {took / first[what]:.2f}×" for what, took in found.items())
        print(f"{name}, {given.devices * times:,} devices: {told}", flush=True)


def growth(url: str, devices: int, turns: int, folder: Path) -> Timed:
    """Seconds, which mean nothing by themselves on a shared machine."""
    database = open_database(url, now=NOW)
    try:
        femi = furnished(database, devices)
        client = _visitor(database, femi, folder)
        return {
            "wall": _median(turns, lambda: _page(client, "/skerry/fleet")),
            "device page": _median(turns, lambda: _page(client, "/skerry/devices/kit-000000")),
            "look-up": _median(turns, lambda: _page(client, "/skerry/limits?age=3+y")),
            f"import of {MOVED} devices": _median(turns, _one_more_file(database, femi)),
            "re-audit": _median(1, lambda: _reaudit(database, femi)),
        }
    finally:
        database.dispose()


def furnished(database: Database, devices: int) -> Person:
    """Every device with one reading of each preset, one in fifty of them astray."""
    with database.writing() as tx:
        a_signed_revision(tx, document=wide_document(), now=NOW - 30 * DAY)
        femi = a_person(tx, Role.FLEET_MANAGER)
        row = {"agency_id": femi.agency_id, "model": "dunlin", "created_at": NOW}
        names = [{"tag": _tag(n), "station": f"Station {n % STATIONS}"} for n in range(devices)]
        tx.execute(sa.insert(DeviceRow), [one | row for one in names])
    for start in range(0, devices, IN_A_FILE):
        _take(database, femi, range(start, min(start + IN_A_FILE, devices)), minutes=0)
    return femi


def _tag(number: int) -> str:
    return f"kit-{number:06}"


def _take(database: Database, femi: Person, devices: range, *, minutes: int) -> None:
    content = io.BytesIO("\n".join([HEADER, *_lines(devices, minutes), ""]).encode())
    with database.reading() as tx:
        read = read_file(tx, content=content, by=femi, now=NOW)
    with database.writing() as tx:
        take_file(tx, content=content, by=femi, now=NOW, read=read)


def _lines(devices: range, minutes: int) -> Iterator[str]:
    at = f"{NOW - DAY + timedelta(minutes=minutes):%Y-%m-%dT%H:%M:%SZ}"
    signed = wide_document()["settings"]
    cells = {preset: as_told(signed[preset]) for preset in PRESETS}
    for number in devices:
        for preset, found in cells.items():
            for alarm, value in found:
                astray = number % 50 == 0 and alarm == "spo2-low"
                told = "85" if astray else value
                yield f"{_tag(number)},{at},power-on,{preset},{alarm},{told}"


def _one_more_file(database: Database, femi: Person) -> Callable[[], None]:
    turns = iter(range(1, 1000))
    return lambda: _take(database, femi, range(MOVED), minutes=next(turns))


def _reaudit(database: Database, femi: Person) -> None:
    with database.writing() as tx:
        reaudit(tx, by=femi, now=NOW)


def _visitor(database: Database, femi: Person, folder: Path) -> TestClient:
    with database.writing() as tx:
        token = sign_in(
            tx,
            agency=femi.agency,
            username=femi.username,
            password=PASSWORD,
            now=NOW,
            address="127.0.0.1",
        )
    settings = Settings(data_dir=folder, database_url="sqlite:///unused")
    app = build(settings, database, clock=lambda: NOW)
    return TestClient(app, cookies={COOKIE: token})


def _page(client: TestClient, path: str) -> None:
    answer = client.get(path)
    if answer.status_code != 200:
        raise RuntimeError(f"{path}: {answer.status_code}")


def _median(turns: int, work: Callable[[], None]) -> float:
    took = []
    for _ in range(turns):
        began = time.perf_counter()
        work()
        took.append(time.perf_counter() - began)
    return statistics.median(took)


if __name__ == "__main__":
    main()
