"""Plugs together the process that does long work, without the pages."""

import os
import signal
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType

from app.jobs.worker import work_on_postgresql, work_on_sqlite
from app.opening import open_house
from app.settings import Settings
from app.storage.migrating import sqlite_file
from app.web.journal import write_journal


def work(settings: Settings, *, beside: bool = False) -> None:
    """Until it is stopped; what it has begun then is undone, and begun again by the next one."""
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, _end)
    if beside:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is meant for the service
        threading.Thread(target=_end_with_input, daemon=True).start()
    house = open_house(settings, now=_now())
    write_journal(settings.log_level, sys.stdout)
    file = sqlite_file(settings.database_url)
    if file is None:
        work_on_postgresql(house, url=settings.database_url, clock=_now)
    else:
        work_on_sqlite(house, lock=Path(f"{file}.work"), clock=_now)


def _now() -> datetime:
    return datetime.now(UTC)


def _end_with_input() -> None:
    """The service holds the other end, however it ends."""
    sys.stdin.buffer.read()
    os._exit(0)


def _end(_number: int, _frame: FrameType | None) -> None:
    """At once: a thread in the midst of its work cannot be asked to stop, and need not be."""
    os._exit(0)
