"""Work that makes very many objects and leaves none of them behind as garbage."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def without_collecting() -> Iterator[None]:
    """Looking for garbage, again and again among ever more objects that are all in use, takes a
    sixth of the time of a large file, and half of that of a large fleet."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()
