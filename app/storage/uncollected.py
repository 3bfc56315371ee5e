"""Work that makes very many objects and leaves none of them behind as garbage."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

_lock = Lock()
_working = 0
_collected_before = True


@contextmanager
def without_collecting() -> Iterator[None]:
    """Looking for garbage, again and again among ever more objects that are all in use, takes a
    sixth of the time of a large file, and half of that of a large fleet.

    It holds for the whole process. So whoever comes first stops it, and whoever leaves last, be it
    by an exception, starts it again.
    """
    _enter()
    try:
        yield
    finally:
        _leave()


def _enter() -> None:
    global _working, _collected_before
    with _lock:
        if not _working:
            _collected_before = gc.isenabled()
            gc.disable()
        _working += 1


def _leave() -> None:
    global _working
    with _lock:
        _working -= 1
        if not _working and _collected_before:
            gc.enable()
