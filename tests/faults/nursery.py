"""A process that makes services: `python -m tests.faults.nursery DATABASE_URL`.

For each line on its standard input it forks a child which serves and another one that does long
work, and prints their numbers and the port. So a new service costs two forks, and no imports.
"""

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import uvicorn
from fastapi import FastAPI

import app.actions.long_work as long_work
from app.domain.errors import MarchstoneError
from app.jobs.doing import Later
from app.jobs.worker import do_all
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.web.known_agencies import KnownAgencies

LONG = 30_000
"""Bytes of a file that is long here: a few rounds of readings in one."""


def main(url: str) -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the dead are not waited for
    place = Path(tempfile.gettempdir())
    app = build(Settings(data_dir=place, database_url=url), Database("sqlite://"))
    vars(long_work)["LARGEST_AT_ONCE"] = LONG
    last: list[int] = []
    for _ in sys.stdin:
        with socket.create_server(("127.0.0.1", 0)) as listening:
            port = listening.getsockname()[1]
            last = [_forked(lambda at=listening: _serve(app, url, at))]  # type: ignore[misc]
        last.append(_forked(lambda: _work(url)))
        print(*last, port, flush=True)
    for one in last:
        kill(one)


def _forked(do: Callable[[], None]) -> int:
    child = os.fork()
    if child == 0:
        do()
        os._exit(0)
    return child


def _work(url: str) -> None:
    """Nobody else works on this database, so the one before it needs no time to pass for dead."""
    database = Database(url)
    while True:
        with suppress(MarchstoneError, Later):  # its database may be away, or full
            do_all(database, clock=lambda: datetime.now(UTC))
        time.sleep(0.02)


def _serve(app: FastAPI, url: str, listening: socket.socket) -> None:
    """Nothing of a connection is shared with the parent: it never opened one."""
    app.state.database = Database(url)
    app.state.agencies = KnownAgencies(app.state.database)
    uvicorn.Server(uvicorn.Config(app, log_config=None)).run(sockets=[listening])


def kill(number: int) -> None:
    """As a power cut would end it, as far as a process can tell."""
    try:
        os.kill(number, signal.SIGKILL)
    except ProcessLookupError:
        return


class Nursery:
    """The other end of the pipe."""

    def __init__(self, url: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.nursery", url],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        )

    def new_service(self) -> tuple[int, int, int]:
        """The number of its process, of the one that does long work, and its port."""
        if self._process.stdin is None or self._process.stdout is None:
            raise RuntimeError("the pipes were asked for")
        self._process.stdin.write("one\n")
        self._process.stdin.flush()
        number, worker, port = self._process.stdout.readline().split()
        return int(number), int(worker), int(port)

    def close(self) -> None:
        self._process.communicate(timeout=30)


if __name__ == "__main__":
    main(sys.argv[1])
