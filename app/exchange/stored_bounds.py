"""Outer bounds out of the database: they were read when they were stored, and never change."""

import io
from functools import lru_cache

from app.domain.bounds_versions import BoundsVersion
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds
from app.exchange.bounds_csv import read_bounds


def stored_bounds(version: BoundsVersion | None) -> OuterBounds:
    """The default where no version is in force."""
    return DEFAULT_BOUNDS if version is None else bounds_of(version.text, version.name)


@lru_cache(maxsize=32)
def bounds_of(text: str, name: str) -> OuterBounds:
    """Raises Refused."""
    return read_bounds(io.BytesIO(text.encode()), name)
