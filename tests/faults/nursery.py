"""A process that makes services: `python -m tests.faults.nursery DATABASE_URL`.

For each line on its standard input it forks a child which serves, and prints the child's number
and port. So a new service costs a fork, and no imports.
"""

import os
import signal
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.web.known_agencies import KnownAgencies


def main(url: str) -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the dead are not waited for
    place = Path(tempfile.gettempdir())
    app = build(Settings(data_dir=place, database_url=url), Database("sqlite://"))
    last = 0
    for _ in sys.stdin:
        with socket.create_server(("127.0.0.1", 0)) as listening:
            port = listening.getsockname()[1]
            last = os.fork()
            if last == 0:
                _serve(app, url, listening)
        print(last, port, flush=True)
    if last:
        kill(last)


def _serve(app: FastAPI, url: str, listening: socket.socket) -> None:
    """Nothing of a connection is shared with the parent: it never opened one."""
    app.state.database = Database(url)
    app.state.agencies = KnownAgencies(app.state.database)
    uvicorn.Server(uvicorn.Config(app, log_config=None)).run(sockets=[listening])
    os._exit(0)


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

    def new_service(self) -> tuple[int, int]:
        """Its process number and its port."""
        if self._process.stdin is None or self._process.stdout is None:
            raise RuntimeError("the pipes were asked for")
        self._process.stdin.write("one\n")
        self._process.stdin.flush()
        number, port = self._process.stdout.readline().split()
        return int(number), int(port)

    def close(self) -> None:
        self._process.communicate(timeout=30)


if __name__ == "__main__":
    main(sys.argv[1])
