"""What keeps an installation alive is killed in its midst: a backup is whole or not there, a place
that was half restored or half migrated is so again at the next try, with everything in it."""

import os
import signal
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from app.domain.errors import MarchstoneError
from app.lookups.ledger import prove_ledger
from app.settings import Settings
from app.storage.backups import heads_of
from app.storage.database import Database
from app.storage.migrating import open_database
from app.upkeep import back_up, restore
from tests.faults.rounds import Told, furnished
from tests.storage.older import KEPT, fill

Say = Callable[[str], None]
NOW = datetime.now(UTC)


def kill_upkeep(
    folder: Path, new_place: Callable[[], str], rounds: int, dice: Random, told: Told, say: Say
) -> None:
    """Each round kills one backup, one restore and one migration."""
    folder.mkdir(parents=True)
    source = Settings(data_dir=folder, database_url=new_place())
    database = open_database(source.database_url, now=NOW)
    furnished(database)
    database.dispose()
    good = folder / "good.zip"
    longest = {"backup": _taken(lambda: back_up(source, good, now=NOW))}
    for number in range(rounds):
        for deed, untruth in (
            ("backup", _backup(source, folder / f"{number}.zip", dice, longest)),
            ("restore", _restore(good, folder, new_place(), dice, longest)),
            ("migration", _migration(new_place(), dice, longest)),
        ):
            told.acknowledged[deed] += 1
            if untruth:
                told.untrue.append(f"{deed}: {untruth}")
                say(told.untrue[-1])
        told.rounds += 1


def _backup(source: Settings, target: Path, dice: Random, longest: dict[str, float]) -> str:
    _killed_within(lambda: back_up(source, target, now=NOW), dice, longest["backup"])
    if not target.exists():
        back_up(source, target, now=NOW)  # what was left behind is in nobody's way
    place = Settings(
        data_dir=target.parent, database_url=f"sqlite:///{target.with_suffix('.sqlite3')}"
    )
    try:
        _, proof = restore(place, target, now=NOW)
    except MarchstoneError as refused:
        return refused.message
    return "" if proof.holds else "what comes out of it does not prove"


def _restore(good: Path, folder: Path, url: str, dice: Random, longest: dict[str, float]) -> str:
    target = Settings(data_dir=folder, database_url=url)
    if "restore" not in longest:
        longest["restore"] = _taken(lambda: restore(target, good, now=NOW))
        return ""
    _killed_within(lambda: restore(target, good, now=NOW), dice, longest["restore"])
    database = open_database(url, now=NOW)
    try:
        there = heads_of(database)
    finally:
        database.dispose()
    if not there:
        if url.startswith("sqlite"):
            Path(url.removeprefix("sqlite:///")).unlink()
        restore(target, good, now=NOW)
    return _unproven(url)


def _migration(url: str, dice: Random, longest: dict[str, float]) -> str:
    fill(url, KEPT[dice.randrange(len(KEPT))])
    if "migration" not in longest:
        longest["migration"] = _taken(lambda: open_database(url, now=NOW).dispose())
    else:
        _killed_within(lambda: open_database(url, now=NOW).dispose(), dice, longest["migration"])
    return _unproven(url)


def _unproven(url: str) -> str:
    """Once it is opened again, by whoever comes next."""
    database: Database = open_database(url, now=NOW)
    try:
        with database.reading() as tx:
            proof = prove_ledger(tx)
    finally:
        database.dispose()
    if not proof.chains:
        return "nothing is there"
    return "" if proof.holds else "it does not prove"


def _taken(do: Callable[[], object]) -> float:
    began = time.monotonic()
    do()
    return time.monotonic() - began


def _killed_within(do: Callable[[], object], dice: Random, longest: float) -> None:
    """In a process of its own, at a moment that the die chooses; often none too late."""
    child = os.fork()
    if child == 0:
        try:
            do()
        finally:
            os._exit(0)
    time.sleep(dice.uniform(0, longest))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
