"""What is counted of a fleet takes as many statements for a large one as for a small one."""

import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from app.lookups.measures import measures
from app.lookups.patterns import patterns_now
from app.storage.database import Database
from tests.bench.growing import furnished
from tests.builders import DAY, NOW
from tests.web.visits import statements

SMALL, LARGE = 60, 700


@pytest.mark.parametrize(
    "look",
    [partial(measures, now=NOW, since=NOW - 300 * DAY), patterns_now],
    ids=["measures", "why"],
)
def test_they_are_as_many_for_a_large_fleet(
    look: Callable[..., Any], sqlite_template: Path, tmp_path: Path
) -> None:
    sent = {}
    for devices in (SMALL, LARGE):
        path = shutil.copyfile(sqlite_template, tmp_path / f"{devices}.sqlite3")
        database = Database(f"sqlite:///{path}")
        femi = furnished(database, devices)
        with database.reading() as tx, statements(database) as told:
            found = look(tx, agency_id=femi.agency_id)
        database.dispose()
        sent[devices] = len(told)
        assert found.fleet == devices
    assert sent[LARGE] == sent[SMALL]
