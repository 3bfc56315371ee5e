"""A few rounds on a disk that really is full; `python -m tests.faults` does many."""

import re
from collections.abc import Iterator
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest

from tests.faults import own_server, small_disk
from tests.faults.rounds import Fault, Told, kill_often
from tests.faults.server_gone import ServerKilled

SAYS = {
    507: re.compile("The disk is full, so nothing was stored"),
    503: re.compile("cannot be reached just now. Nothing was stored|Look whether it is there"),
}
"""PostgreSQL ends when its log finds no room."""


@pytest.fixture
def place() -> Iterator[Path]:
    """Where PostgreSQL, which is another user, can go as well."""
    with TemporaryDirectory(prefix="ms-own-", ignore_cleanup_errors=True) as found:
        yield Path(found)


@pytest.fixture
def disk(place: Path) -> Iterator[Path]:
    with small_disk.small_disk(place, mib=120) as mounted:
        if mounted is None:
            pytest.skip(small_disk.MISSING)
        yield mounted


def rounds(url: str, fault: Fault) -> Told:
    told = Told()
    kill_often(url, 1, Random(3), told, print, fault)
    return told


def test_sqlite_on_a_full_disk_loses_nothing_and_goes_on_when_there_is_room(disk: Path) -> None:
    told = rounds(f"sqlite:///{disk}/stones.sqlite3", small_disk.DiskFull(disk))

    assert told.untrue == []
    assert {status for status, _ in told.refused} == {507}
    assert any("The disk is full, so nothing was stored." in said for _, said in told.refused)


def test_postgresql_on_a_full_disk_loses_nothing_and_goes_on_when_there_is_room(
    disk: Path,
) -> None:
    with own_server.own_server(disk) as server:
        if server is None:
            pytest.skip(own_server.MISSING)
        told = rounds(server.new_database("faults"), small_disk.DiskFull(disk, server))

    assert told.untrue == []
    assert told.refused
    assert all(SAYS[status].search(said) for status, said in told.refused)


def test_a_postgresql_server_that_dies_loses_nothing_and_the_service_goes_on(place: Path) -> None:
    with own_server.own_server(place) as server:
        if server is None:
            pytest.skip(own_server.MISSING)
        told = rounds(server.new_database("faults"), ServerKilled(server))

    assert told.untrue == []
    assert any("cannot be reached" in said for _, said in told.refused)
