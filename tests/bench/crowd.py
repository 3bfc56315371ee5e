"""`python -m tests.bench.crowd`: 200 crews look limits up while a file of 1,000,000 readings is
taken in and directors edit, in one process on SQLite and in two on PostgreSQL.

Printed is how late the slowest of a hundred look-ups is, against the same crews alone, and every
answer that was none. Crews come when they come: how late an answer is counts from the moment at
which it was wanted, and nobody waits with the next question for the last answer. The crews
themselves run before everything else on this machine, so that their own lateness is none of the
service's.
"""

import argparse
import asyncio
import json
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from http.client import HTTPConnection
from pathlib import Path
from random import Random
from typing import Any

import sqlalchemy as sa

from app.actions.sign_ins import sign_in
from app.domain.people import Person, Role
from app.main import build, wall_clock
from app.settings import Settings
from app.storage.database import Database
from app.storage.devices import DeviceRow
from app.storage.migrating import open_database
from app.web.sessions import COOKIE
from tests import postgresql_server
from tests.bench.growing import _new_database
from tests.bench.looking_up import _served
from tests.builders import DAY, PASSWORD, a_draft, a_person, a_signed_revision, as_signed
from tests.reading_files import HEADER, written

PRESETS = ("neonate", "infant", "preschool", "school", "adult")
AGES = ("3+d", "7+mo", "2+y", "4+y", "8+y", "40+y")
DIRECTORS = 2
EACH_S = 1.0
"""Between two edits of a director."""
_FORKING = multiprocessing.get_context("fork")


@dataclass
class Heard:
    """Seconds of each answer, and what was no answer."""

    took: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def p99(self) -> float:
        return sorted(self.took)[int(len(self.took) * 0.99)]

    def __str__(self) -> str:
        slowest = max(self.took, default=0.0)
        told = f"{len(self.took)} answered, slowest {slowest * 1000:.0f} ms"
        return f"{told}, {len(self.wrong)} wrong {sorted(set(self.wrong))[:3] or ''}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.crowd", description=__doc__)
    parser.add_argument("--crews", type=int, default=200)
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--pause", type=float, default=2.0, help="mean seconds a crew reads")
    parser.add_argument("--idle", type=float, default=30.0, help="seconds of crews alone")
    given = parser.parse_args()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="ms-crowd-")))
        _one("SQLite", f"sqlite:///{folder}/crowd.sqlite3", 1, given, folder)
        server = postgresql_server.start(stack)
        if server is None:
            print(postgresql_server.MISSING)
        else:
            _one("PostgreSQL", _new_database(server, 0), 2, given, folder)


def _one(name: str, url: str, processes: int, given: argparse.Namespace, folder: Path) -> None:
    readings, tokens = _furnished(url, given.readings, folder / "readings.csv")
    settings = Settings(data_dir=folder, database_url=url, log_level="error")
    with _served(partial(_service, settings), processes) as served, _worker(settings):
        port = served.port
        _before_all_else()
        for number, token in enumerate(tokens[1:], start=2):
            _step(port, token, number, 1, Heard())  # warms up, as what follows does
        asyncio.run(_crews(port, given, _for(2.0)))
        idle = asyncio.run(_crews(port, given, _for(given.idle)))
        told: Any = _FORKING.Queue()
        over = _FORKING.Event()
        work = [_FORKING.Process(target=_import, args=(port, tokens[0], folder, told, over))]
        work += [
            _FORKING.Process(target=_edit, args=(port, token, number, told, over))
            for number, token in enumerate(tokens[1:], start=2)
        ]
        for one in work:
            one.start()
        busy = asyncio.run(_crews(port, given, lambda: not over.is_set()))
        results = dict(told.get(timeout=60) for _ in work)
        for one in work:
            one.join(timeout=60)
    print(f"{name}, {processes} process(es), {given.crews} crews, {readings:,} readings")
    print(f"  look-ups alone: {idle}; p99 {idle.p99() * 1000:.1f} ms")
    print(f"  look-ups then: {busy}; p99 {busy.p99() * 1000:.1f} ms")
    print(f"  p99 {busy.p99() / idle.p99():.2f} × that of crews alone (at most 2)")
    for what, heard in sorted(results.items()):
        print(f"  {what}: {heard}", flush=True)


def _furnished(url: str, readings: int, file: Path) -> tuple[int, list[str]]:
    """How many readings the file holds, and who takes it in, then who edits draft 2, 3 …"""
    cells = {
        preset: [f"{preset},{alarm},{written(found)}" for alarm, found in as_signed(preset).items()]
        for preset in PRESETS
    }
    each = sum(map(len, cells.values()))
    devices = -(-readings // each)
    now = wall_clock() - 30 * DAY
    database = open_database(url, now=now)
    with database.writing() as tx:
        a_signed_revision(tx, now=now)
        femi = a_person(tx, Role.FLEET_MANAGER)
        row = {"agency_id": femi.agency_id, "model": "dunlin", "station": "N", "created_at": now}
        tx.execute(sa.insert(DeviceRow), [row | {"tag": f"kit-{n:06}"} for n in range(devices)])
        people = [femi, *[a_person(tx, Role.MEDICAL_DIRECTOR) for _ in range(DIRECTORS)]]
        for _ in range(DIRECTORS):
            a_draft(tx)
        tokens = [_token(tx, one) for one in people]
    database.dispose()
    with file.open("w") as text:
        text.write(f"{HEADER}\n")
        text.writelines(_lines(cells, devices))
    return devices * each, tokens


def _lines(cells: dict[str, list[str]], devices: int) -> Iterator[str]:
    at = f"{wall_clock() - DAY:%Y-%m-%dT%H:%M:%SZ}"
    for number in range(devices):
        for found in cells.values():
            for cell in found:
                yield f"kit-{number:06},{at},power-on,{cell}\n"


def _token(tx: Any, who: Person) -> str:
    now = wall_clock()
    return sign_in(
        tx, agency="skerry", username=who.username, password=PASSWORD, now=now, address="::1"
    )


def _service(settings: Settings) -> object:
    return build(settings, Database(settings.database_url))


@contextmanager
def _worker(settings: Settings) -> Iterator[None]:
    """As the service starts it beside itself."""
    command = [sys.executable, "-m", "app.cli.commands", "work", "--beside"]
    environ = settings.for_workers(os.environ)
    with subprocess.Popen(command, stdin=subprocess.PIPE, env=environ) as running:
        try:
            yield
        finally:
            running.terminate()


def _before_all_else() -> None:
    with suppress(OSError):
        os.setpriority(os.PRIO_PROCESS, 0, -15)


def _for(seconds: float) -> Callable[[], bool]:
    end = time.perf_counter() + seconds
    return lambda: time.perf_counter() < end


async def _crews(port: int, given: argparse.Namespace, goes_on: Callable[[], bool]) -> Heard:
    heard = Heard()
    await asyncio.gather(
        *(
            _crew(port, given.pause, Random(n), goes_on, heard)  # noqa: S311 - no secret
            for n in range(given.crews)
        )
    )
    return heard


async def _crew(
    port: int, pause: float, dice: Random, goes_on: Callable[[], bool], heard: Heard
) -> None:
    wanted = time.perf_counter() + dice.uniform(0, pause)
    async with asyncio.TaskGroup() as asking:
        while goes_on():
            await asyncio.sleep(max(0.0, wanted - time.perf_counter()))
            asking.create_task(_ask_once(port, dice.choice(AGES), wanted, heard))
            wanted += dice.expovariate(1 / pause)


async def _ask_once(port: int, age: str, wanted: float, heard: Heard) -> None:
    answer = await _look_up(port, age)
    heard.took.append(time.perf_counter() - wanted)
    if not answer.startswith(b"HTTP/1.1 200 ") or b"alarm below" not in answer:
        heard.wrong.append(answer[:12].decode())


async def _look_up(port: int, age: str) -> bytes:
    """Over a line of its own, as phones ask that were asleep."""
    try:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        asked = f"GET /skerry/limits?age={age} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
        writer.write(f"{asked}Connection: close\r\n\r\n".encode())
        answer = await reader.read(-1)
        writer.close()
    except OSError as error:
        return repr(error).encode()
    return answer


def _import(port: int, token: str, folder: Path, told: Any, over: Any) -> None:
    heard = Heard()
    began = time.perf_counter()
    try:
        with (folder / "readings.csv").open("rb") as file:
            length = str((folder / "readings.csv").stat().st_size)
            headers = {"Content-Type": "text/csv", "Content-Length": length}
            headers["Idempotency-Key"] = "crowd"
            _ask(port, "/api/v1/skerry/readings", file, headers, token, heard)
        while (state := _state(port, token)) not in ("done", "failed"):
            time.sleep(0.5)
        heard.took.append(time.perf_counter() - began)
        if state != "done":
            heard.wrong.append(state)
    finally:
        over.set()
        told.put(("import", heard))


def _state(port: int, token: str) -> str:
    connection = HTTPConnection("127.0.0.1", port, timeout=60)
    connection.request("GET", "/api/v1/skerry/work/1", headers={"Cookie": f"{COOKIE}={token}"})
    found: str = json.loads(connection.getresponse().read())["state"]
    connection.close()
    return found


def _edit(port: int, token: str, number: int, told: Any, over: Any) -> None:
    """One wall of their own draft, a step up and a step down."""
    heard, version = Heard(), 2
    while not over.is_set():
        version += _step(port, token, number, version, heard)
        time.sleep(EACH_S)
    told.put((f"edits of draft {number}", heard))


def _step(port: int, token: str, number: int, version: int, heard: Heard) -> bool:
    path = f"/skerry/policy/{number}/wall/preschool/heart-rate-high"
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    form = f"steps={1 if version % 2 else -1}&edit_version={version}".encode()
    return _ask(port, path, form, headers, token, heard)


def _ask(
    port: int, path: str, body: Any, headers: dict[str, str], token: str, heard: Heard
) -> bool:
    connection = HTTPConnection("127.0.0.1", port, timeout=3600)
    began = time.perf_counter()
    connection.request("POST", path, body, headers | {"Cookie": f"{COOKIE}={token}"})
    answer = connection.getresponse()
    text = answer.read()
    heard.took.append(time.perf_counter() - began)
    connection.close()
    if answer.status >= 400:
        heard.wrong.append(f"{answer.status} {text[:80].decode(errors='replace')}")
    return answer.status < 400


if __name__ == "__main__":
    main()
