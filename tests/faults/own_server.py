"""A PostgreSQL server that may be killed, filled up and started again; it keeps its own rules about
what reaches the disk, for what it acknowledged must be there afterwards."""

import os
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.parse import quote

import sqlalchemy as sa

from tests.postgresql_server import (
    binaries,
    give_to_postgres,
    run_as_postgres,
    stopped_with_us,
)

MISSING = "A killed PostgreSQL server was NOT tried: no system server was found"
_SMALL = "-c min_wal_size=4MB -c max_wal_size=8MB -c shared_buffers=16MB -c autovacuum=off"
_STARTS_WITHIN_S = 60
_PGREP = "/usr/bin/pgrep"


class OwnServer:
    def __init__(self, bin_dir: Path, place: Path) -> None:
        self._tool, self._place, self._data = bin_dir / "pg_ctl", place, place / "data"
        run_as_postgres(
            bin_dir / "initdb", "-D", self._data, "-U", "marchstone", "-A", "trust",
            "-E", "UTF8", "--wal-segsize=1",
        )  # fmt: skip

    @property
    def url(self) -> str:
        return f"postgresql+psycopg://marchstone@/postgres?host={quote(str(self._place))}"

    def start(self) -> None:
        """Nothing where it runs. What a killed one left behind may be in the way for a moment."""
        until = time.monotonic() + _STARTS_WITHIN_S
        while not self.answers():
            with suppress(RuntimeError):
                self._start_once()
            if time.monotonic() > until:
                raise RuntimeError(f"no start: {(self._place / 'log').read_text()[-2000:]}")
            time.sleep(0.1)

    def _start_once(self) -> None:
        options = f"-c listen_addresses='' -k {self._place} {_SMALL}"
        log = self._place / "log"
        run_as_postgres(self._tool, "-D", self._data, "-l", log, "-w", "-o", options, "start")

    def answers(self) -> bool:
        engine = sa.create_engine(self.url, poolclass=sa.NullPool)
        try:
            with engine.connect():
                return True
        except sa.exc.OperationalError:
            return False

    def new_database(self, name: str) -> str:
        engine = sa.create_engine(self.url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
        with engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {name}")
        return sa.make_url(self.url).set(database=name).render_as_string(False)

    def stop_at_once(self) -> None:
        run_as_postgres(self._tool, "-D", self._data, "-m", "immediate", "-w", "stop")

    def kill(self) -> None:
        """All its processes, the first one first."""
        first = self._first()
        for number in (first, *_children(first)):
            _kill(number)

    def kill_one_connection(self) -> None:
        """Then it ends all the others by itself, and recovers."""
        engine = sa.create_engine(self.url, poolclass=sa.NullPool)
        with engine.connect() as connection:
            others = connection.exec_driver_sql(
                "SELECT pid FROM pg_stat_activity "
                "WHERE datname LIKE 'faults%%' AND pid <> pg_backend_pid() ORDER BY xact_start"
            )
            found = list(others.scalars())
        for number in found[:1]:
            _kill(number)

    def _first(self) -> int:
        return int((self._data / "postmaster.pid").read_text().split("\n")[0])


def _children(number: int) -> list[int]:
    found = subprocess.run([_PGREP, "-P", str(number)], capture_output=True, text=True, check=False)
    return [int(one) for one in found.stdout.split()]


def _kill(number: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(number, signal.SIGKILL)


@contextmanager
def own_server(place: Path) -> Iterator[OwnServer | None]:
    """None where there is no system server. `place` goes with it."""
    bin_dir = binaries()
    if bin_dir is None or not Path(_PGREP).exists():
        yield None
        return
    give_to_postgres(place)
    server = OwnServer(bin_dir, place)
    server.start()
    with stopped_with_us(bin_dir, str(place / "data")):
        yield server
