"""The crew's look-up page against a bare Starlette "hello" on the same server: how many a second,
and how late the latest. One process or two behind one socket, 32 phones that stay connected."""

import asyncio
import multiprocessing
import os
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any
from urllib.request import urlopen

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request as Asked
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from app.main import build, settle, wall_clock
from app.settings import Settings
from app.storage.database import Database
from app.storage.migrating import open_database
from app.web.bounded_heads import BoundedHeads
from tests.bench.contests import LEAST_TURNS, Line
from tests.builders import a_signed_revision

NAME = "look-up page"
WORKERS = (1, 2)
PHONES, REQUESTS = 32, 4_000
_PAGE, _HELLO = "/skerry/limits?age=7+mo", "/"
_AS_BROWSERS = "Accept-Encoding: gzip, deflate, br\r\nAccept: text/html\r\nCookie: t=day"


@dataclass(frozen=True)
class Turn:
    """Seconds a request, all phones together, of the slowest of a hundred, and of the server's
    own work: phones and whoever else uses this machine are not in it."""

    each: float
    p99: float
    work: float


@dataclass(frozen=True)
class Served:
    port: int
    processes: tuple[int, ...]

    def worked(self) -> float:
        """Seconds of all its processes together."""
        return sum(map(_worked, self.processes))


def _worked(process: int) -> float:
    with Path(f"/proc/{process}/stat").open() as told:
        fields = told.read().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class _Rival:
    """`status` is what every answer is held against: no ratio without it."""

    name: str
    at: Served
    path: str
    status: int
    more: str = ""

    def turn(self) -> Turn:
        return asyncio.run(_all_phones(self))


def lines(turns: int) -> list[Line]:
    found: list[Line] = []
    for workers in WORKERS:
        with (
            _policy() as folder,
            _served(_hello_app, workers) as hello,
            _served(partial(_our_app, folder), workers) as ours,
        ):
            found += _held(hello, ours, workers, max(turns, LEAST_TURNS))
    return found


def _held(hello: Served, ours: Served, workers: int, turns: int) -> list[Line]:
    tag = f"If-None-Match: {_tag(ours.port)}"
    rivals = (
        _Rival("a bare hello", hello, _HELLO, 200),
        _Rival("page", ours, _PAGE, 200),
        _Rival("304", ours, _PAGE, 304, tag),
    )
    taken: dict[str, list[Turn]] = {rival.name: [rival.turn()] for rival in rivals}  # warms up
    for _ in range(turns):
        for rival in rivals:
            taken[rival.name].append(rival.turn())
    each = {name: median(turn.each for turn in found[1:]) for name, found in taken.items()}
    p99 = {name: median(turn.p99 for turn in found[1:]) for name, found in taken.items()}
    work = {name: median(turn.work for turn in found[1:]) for name, found in taken.items()}
    size = f"{workers} worker{'' if workers == 1 else 's'}, {PHONES} phones"

    def line(what: str, times: dict[str, float], name: str, target: str) -> Line:
        mine, theirs = times[name] * 1000, times["a bare hello"] * 1000
        return Line(f"{NAME}, {what}", size, "a bare hello", mine, theirs, mine / theirs, target)

    return [
        line("time", each, "page", "at most 1.43 (0.7 of its rate)"),
        line("p99", p99, "page", "at most 2"),
        line("304, time", each, "304", "at most 1"),
        line("work of the server", work, "page", "at most 1.43"),
        line("304, work of the server", work, "304", "at most 1"),
    ]


def _tag(port: int) -> str:
    """Of the page, once it is known to hold what it should."""
    with urlopen(f"http://127.0.0.1:{port}{_PAGE}") as answer:
        if "alarm below" not in answer.read().decode():
            raise RuntimeError("the page shows no limits: nothing is measured")
        return str(answer.headers["etag"])


async def _all_phones(rival: _Rival) -> Turn:
    head = f"GET {rival.path} HTTP/1.1\r\nHost: 127.0.0.1:{rival.at.port}\r\n{_AS_BROWSERS}\r\n"
    asked = (head + (f"{rival.more}\r\n" if rival.more else "") + "\r\n").encode()
    expected = f"HTTP/1.1 {rival.status} ".encode()
    began, worked = time.perf_counter(), rival.at.worked()
    each = REQUESTS // PHONES
    spent = await asyncio.gather(
        *(_phone(rival.at.port, asked, expected, each) for _ in range(PHONES))
    )
    whole, work = time.perf_counter() - began, rival.at.worked() - worked
    late = sorted(one for phone in spent for one in phone)
    return Turn(whole / len(late), late[int(len(late) * 0.99)], work / len(late))


async def _phone(port: int, asked: bytes, expected: bytes, times: int) -> list[float]:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    spent = []
    for _ in range(times):
        began = time.perf_counter()
        writer.write(asked)
        head = await reader.readuntil(b"\r\n\r\n")
        if not head.startswith(expected):
            raise RuntimeError(f"another answer than expected: {head[:80]!r}")
        _, found, rest = head.partition(b"content-length: ")
        if found:
            await reader.readexactly(int(rest.split(b"\r\n", 1)[0]))
        spent.append(time.perf_counter() - began)
    writer.close()
    return spent


def _hello_app() -> Starlette:
    async def hello(_: Asked) -> PlainTextResponse:
        return PlainTextResponse("hello")

    return Starlette(routes=[Route(_HELLO, hello)])


def _our_app(folder: Path) -> object:
    url = f"sqlite:///{folder / 'look-up.sqlite3'}"
    return build(Settings(data_dir=folder, database_url=url), Database(url))


@contextmanager
def _policy() -> Iterator[Path]:
    with TemporaryDirectory(prefix="marchstone-bench-") as name:
        folder = Path(name)
        now = wall_clock() - timedelta(days=1)
        database = open_database(f"sqlite:///{folder / 'look-up.sqlite3'}", now=now)
        with database.writing() as tx:
            a_signed_revision(tx, now=now)
        database.dispose()
        yield folder


@contextmanager
def _served(make: Callable[[], object], workers: int) -> Iterator[Served]:
    """Until the end; the socket is shared, as processes of one service share it."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.bind(("127.0.0.1", 0))
    listening.listen(512)
    port: int = listening.getsockname()[1]
    forking = multiprocessing.get_context("fork")
    running = [forking.Process(target=_serve, args=(make, listening)) for _ in range(workers)]
    for process in running:
        process.start()
    try:
        time.sleep(3)
        yield Served(port, tuple(one.pid for one in running if one.pid is not None))
    finally:
        for process in running:
            process.terminate()
            process.join(timeout=10)
        listening.close()


def _serve(make: Callable[[], Any], listening: socket.socket) -> None:
    config = uvicorn.Config(make(), http=BoundedHeads, log_level="error")
    settle()
    uvicorn.Server(config).run(sockets=[listening])
