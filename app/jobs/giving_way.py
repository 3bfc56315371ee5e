"""Work that lets everybody else go first on a busy machine."""

import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import TypeVar

GIVES_WAY = 10
"""As `nice` counts."""
Found = TypeVar("Found")


def giving_way(do: Callable[[], Found]) -> Found:
    """In a thread of its own: Linux counts each by itself, and nobody may take back his place."""
    with ThreadPoolExecutor(1, initializer=_give_way) as thread:
        return thread.submit(do).result()


def _give_way() -> None:
    with suppress(OSError):
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), GIVES_WAY)
