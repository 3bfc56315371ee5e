"""A whole fleet in a database file: held against a revision, and shown on its wall."""

import atexit
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import numpy as np
from starlette.testclient import TestClient

from app.actions.sign_ins import sign_in
from app.domain.people import Role
from app.domain.reading_block import BlockDeviations, ReadingBlock, SignedBlock, compare_block
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.storage.held_blocks import held_blocks
from app.web.sessions import COOKIE
from tests.bench.contests import Contest, Rival
from tests.bench.fleet_rows import fleet_database
from tests.bench.holding import a_fleet
from tests.builders import NOW, PASSWORD, a_person

DEVICES = (10_000, 100_000)
WALLS = (1_000, 10_000, 100_000)
_MODEL = "turnstone"


def contest(devices: int) -> Contest:
    stored = _stored(devices)
    return Contest(
        name="hold a fleet from the database",
        size=f"{devices:,} devices × {len(stored.signed.layout)} settings, SQLite",
        ours=Rival("read and compare", stored.from_the_file),
        others=(
            Rival("np.not_equal of the same in memory", stored.floor, answers=False),
            Rival("sqlite3 reading the bytes alone", stored.bytes_alone, answers=False),
            Rival("compare what is in memory", stored.in_memory),
        ),
        target="at most 30 × np.not_equal",
    )


def wall(devices: int) -> Contest:
    return _page("tide wall", "/skerry/fleet", devices)


def changeover(devices: int) -> Contest:
    return _page("changeover", "/skerry/fleet/changeover", devices)


def _page(name: str, path: str, devices: int) -> Contest:
    client = _stored(devices).visit()
    return Contest(
        name=name,
        size=f"{devices:,} devices",
        ours=Rival("the page", lambda: client.get(path).text),
        others=(Rival("a bare page", lambda: client.get("/help/caution").text, answers=False),),
        target="at most linear; 1 s for 100,000 devices",
    )


@dataclass(frozen=True, eq=False)
class Listed:
    found: BlockDeviations

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Listed):
            return False
        mine, theirs = vars(self.found).values(), vars(other.found).values()
        return all(np.array_equal(one, two) for one, two in zip(mine, theirs, strict=True))


@dataclass(frozen=True)
class _Stored:
    folder: Path
    database: Database
    block: ReadingBlock
    signed: SignedBlock

    def from_the_file(self) -> Listed:
        """All chunks as one list, counted on from chunk to chunk."""
        parts, first = [], 0
        with self.database.reading() as tx:
            for held in held_blocks(tx, 1):
                found = compare_block(held.block, self.signed)
                rows = (found.rows + first).astype(np.int32)
                parts.append((rows, found.columns, found.directions))
                first += len(held.block.vals)
        return Listed(BlockDeviations(*(np.concatenate(part) for part in zip(*parts, strict=True))))

    def in_memory(self) -> Listed:
        return Listed(compare_block(self.block, self.signed))

    def bytes_alone(self) -> int:
        with closing(sqlite3.connect(self.folder / "fleet.db")) as connection:
            return len(connection.execute("SELECT vals FROM device_now").fetchall())

    def floor(self) -> object:
        return np.not_equal(self.block.vals, self.signed.expected)

    def visit(self) -> TestClient:
        with self.database.writing() as tx:
            femi = a_person(tx, Role.FLEET_MANAGER)
        with self.database.writing() as tx:
            token = sign_in(
                tx,
                agency=femi.agency,
                username=femi.username,
                password=PASSWORD,
                now=NOW,
                address="127.0.0.1",
            )
        settings = Settings(data_dir=self.folder, database_url="sqlite:///unused")
        app = build(settings, self.database, clock=lambda: NOW)
        return TestClient(app, cookies={COOKIE: token})


@cache
def _stored(devices: int) -> _Stored:
    folder = Path(mkdtemp(prefix="marchstone-bench-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    block, signed = a_fleet(devices)
    database = fleet_database(
        folder / "fleet.db", layout=list(block.layout), vals=block.vals, model=_MODEL
    )
    return _Stored(folder, database, block, signed)
