"""`python -m tests.faults --rounds 300`: kills a service that often, and counts what was lost.

Half of the rounds run on SQLite and half on PostgreSQL, where one is found. `--server-rounds 100`
kills PostgreSQL itself under a service that stays, and `--disk-rounds 20` fills the disk of either
database; `--upkeep-rounds 60` kills backup, restore and migration. A killed process is no
power cut: what was handed to the system still reaches the disk. Against that stand SQLite's
`synchronous = FULL` and PostgreSQL's default.
"""

import argparse
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import count
from pathlib import Path
from random import Random

import sqlalchemy as sa

from tests import postgresql_server
from tests.faults import own_server, small_disk
from tests.faults.rounds import Told, kill_often
from tests.faults.server_gone import ServerKilled
from tests.faults.small_disk import DiskFull
from tests.faults.upkeep_killed import kill_upkeep

_ROUNDS_OF_ONE = 25
"""Then a new database, for a long ledger is read slowly."""


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--server-rounds", type=int, default=20)
    parser.add_argument("--disk-rounds", type=int, default=4)
    parser.add_argument("--upkeep-rounds", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0, help="of the die that chooses the moment")
    given = parser.parse_args()
    told: dict[str, Told] = {}
    for part in (_services, _servers, _disks, _upkeep):
        with ExitStack() as stack:
            place = stack.enter_context(
                tempfile.TemporaryDirectory(prefix="ms-faults-", ignore_cleanup_errors=True)
            )
            told |= part(given, Path(place), stack)
    return _tell(told)


def _services(given: argparse.Namespace, folder: Path, stack: ExitStack) -> dict[str, Told]:
    server = postgresql_server.start(stack) if given.rounds else None
    if server is None and given.rounds:
        print(postgresql_server.MISSING)
    told = {"SQLite": Told()} | ({} if server is None else {"PostgreSQL": Told()})
    share = -(-given.rounds // len(told))
    for number, rounds, dice in _portions(share, given.seed):
        kill_often(f"sqlite:///{folder}/{number}.sqlite3", rounds, dice, told["SQLite"], _say)
        if server is not None:
            kill_often(_new(server, number), rounds, dice, told["PostgreSQL"], _say)
        _say(f"{sum(one.rounds for one in told.values())} rounds")
    return {f"{name}, the service killed": one for name, one in told.items()}


def _servers(given: argparse.Namespace, folder: Path, stack: ExitStack) -> dict[str, Told]:
    told = Told()
    server = stack.enter_context(own_server.own_server(folder)) if given.server_rounds else None
    if server is None:
        _say(own_server.MISSING if given.server_rounds else "no server killed")
        return {}
    for number, rounds, dice in _portions(given.server_rounds, given.seed):
        url = server.new_database(f"faults_{number}")
        kill_often(url, rounds, dice, told, _say, ServerKilled(server))
        _say(f"{told.rounds} rounds with a killed server")
    return {"PostgreSQL, the server killed": told}


def _disks(given: argparse.Namespace, folder: Path, _: ExitStack) -> dict[str, Told]:
    """Each round on a new disk, for a chain of full disks fills it with what must be kept."""
    told = {"SQLite, the disk full": Told(), "PostgreSQL, the disk full": Told()}
    for number in range(given.disk_rounds):
        dice = Random(given.seed + number)
        with small_disk.small_disk(folder, mib=120) as disk:
            if disk is None:
                _say(small_disk.MISSING)
                return {}
            url = f"sqlite:///{disk}/stones.sqlite3"
            kill_often(url, 1, dice, told["SQLite, the disk full"], _say, DiskFull(disk))
        with small_disk.small_disk(folder, mib=120) as disk:
            if disk is not None:
                _one_full_server(disk, dice, told["PostgreSQL, the disk full"])
    return told


def _one_full_server(disk: Path, dice: Random, told: Told) -> None:
    with own_server.own_server(disk) as server:
        if server is None:
            _say(own_server.MISSING)
            return
        kill_often(server.new_database("faults"), 1, dice, told, _say, DiskFull(disk, server))


def _upkeep(given: argparse.Namespace, folder: Path, stack: ExitStack) -> dict[str, Told]:
    if not given.upkeep_rounds:
        return {}
    numbers = count(1000)
    places = {"SQLite": lambda: f"sqlite:///{folder}/{next(numbers)}.sqlite3"}
    server = postgresql_server.start(stack)
    if server is not None:
        places["PostgreSQL"] = lambda: _new(server, next(numbers))
    told = {f"{name}, upkeep killed": Told() for name in places}
    share = -(-given.upkeep_rounds // len(told))
    for (name, place), one in zip(places.items(), told.values(), strict=True):
        kill_upkeep(folder / name, place, share, Random(given.seed), one, _say)
    return told


def _portions(rounds: int, seed: int) -> Iterator[tuple[int, int, Random]]:
    for number, start in enumerate(range(0, rounds, _ROUNDS_OF_ONE)):
        yield number, min(_ROUNDS_OF_ONE, rounds - start), Random(seed + number)


def _say(words: str) -> None:
    print(words, flush=True)


def _new(server: str, number: int) -> str:
    engine = sa.create_engine(server, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE faults_{number}")
    engine.dispose()
    return sa.make_url(server).set(database=f"faults_{number}").render_as_string(False)


def _tell(told: dict[str, Told]) -> int:
    for name, one in told.items():
        if not one.rounds:
            continue
        deeds = ", ".join(f"{times} of {deed}" for deed, times in sorted(one.acknowledged.items()))
        print(f"{name} {one.rounds} times; acknowledged {deeds}")
        for status, said in sorted(one.refused):
            print(f"  answered {status}: {said}")
        print(f"  {len(one.untrue)} untruths" if one.untrue else "  all there, nothing by half")
    return 1 if any(one.untrue for one in told.values()) else 0


if __name__ == "__main__":
    raise SystemExit(main())
