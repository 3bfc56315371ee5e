"""`python -m tests.faults --rounds 300`: kills a service that often, and counts what was lost.

Half of the rounds run on SQLite and half on PostgreSQL, where one is found. A killed process is no
power cut: what was handed to the system still reaches the disk. Against that stand SQLite's
`synchronous = FULL` and PostgreSQL's default.
"""

import argparse
import tempfile
from contextlib import ExitStack
from pathlib import Path
from random import Random

import sqlalchemy as sa

from tests import postgresql_server
from tests.faults.rounds import Told, kill_often

_ROUNDS_OF_ONE = 25
"""Then a new database, for a long ledger is read slowly."""


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0, help="of the die that chooses the moment")
    given = parser.parse_args()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="ms-faults-")))
        server = postgresql_server.start(stack)
        if server is None:
            print(postgresql_server.MISSING)
        told = {"SQLite": Told()} | ({} if server is None else {"PostgreSQL": Told()})
        share = -(-given.rounds // len(told))
        for number, start in enumerate(range(0, share, _ROUNDS_OF_ONE)):
            rounds, dice = min(_ROUNDS_OF_ONE, share - start), Random(given.seed + number)
            kill_often(f"sqlite:///{folder}/{number}.sqlite3", rounds, dice, told["SQLite"], print)
            if server is not None:
                kill_often(_new(server, number), rounds, dice, told["PostgreSQL"], print)
            print(f"{sum(one.rounds for one in told.values())} rounds", flush=True)
    return _tell(told)


def _new(server: str, number: int) -> str:
    engine = sa.create_engine(server, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE faults_{number}")
    engine.dispose()
    return sa.make_url(server).set(database=f"faults_{number}").render_as_string(False)


def _tell(told: dict[str, Told]) -> int:
    for name, one in told.items():
        deeds = ", ".join(f"{count} of {deed}" for deed, count in sorted(one.acknowledged.items()))
        print(f"{name}: killed {one.rounds} times; acknowledged {deeds}")
        print(f"  {len(one.untrue)} untruths" if one.untrue else "  all there, nothing by half")
    return 1 if any(one.untrue for one in told.values()) else 0


if __name__ == "__main__":
    raise SystemExit(main())
