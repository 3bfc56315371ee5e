import subprocess
import sys
from pathlib import Path

import pytest

from app.lookups.ledger import prove_agency
from app.storage.database import Database
from app.storage.ledger import append
from tests.builders import NOW, an_agency
from tests.storage.ledgers import bodies

ROOT = Path(__file__).parents[2]
APPEND_MANY = """
import sys
from datetime import UTC, datetime

from app.storage.database import Database
from app.storage.ledger import append

database = Database(sys.argv[1])
for number in range(40):
    with database.writing() as tx:
        append(tx, agency="skerry", did=f"{sys.argv[2]} {number}", by="x", at=datetime.now(UTC))
"""


def test_an_entry_says_who_did_what_when_in_which_agency(database: Database) -> None:
    with database.writing() as tx:
        an_agency(tx)
        append(tx, agency="skerry", did="one", by="dana", at=NOW, about={"limit": 90})

        assert bodies(tx)[-1] == {
            "agency": "skerry",
            "did": "one",
            "by": "dana",
            "at": "2026-03-02T09:00:00+00:00",
            "about": {"limit": 90},
        }


def lose_an_entry(database: Database) -> None:
    with database.writing() as tx:
        append(tx, agency="skerry", did="lost", by="dana", at=NOW)
        raise OSError("disk full")


def test_an_entry_of_a_change_that_failed_leaves_no_gap(database: Database) -> None:
    with database.writing() as tx:
        an_agency(tx)
    with pytest.raises(OSError, match="disk full"):
        lose_an_entry(database)
    with database.writing() as tx:
        append(tx, agency="skerry", did="kept", by="dana", at=NOW)

        assert prove_agency(tx, agency="skerry").entries == 2


def test_two_processes_at_once_keep_one_chain(database: Database, database_url: str) -> None:
    with database.writing() as tx:
        an_agency(tx)

    writers = [
        subprocess.Popen([sys.executable, "-c", APPEND_MANY, database_url, name], cwd=ROOT)
        for name in ("first", "second")
    ]
    codes = [writer.wait(timeout=180) for writer in writers]

    with database.reading() as tx:
        proof = prove_agency(tx, agency="skerry")
        found = [body["did"] for body in bodies(tx)[1:]]
    assert codes == [0, 0]
    assert (proof.holds, proof.entries) == (True, 81)
    assert [did for did in found if did.startswith("first")] == [f"first {n}" for n in range(40)]
    assert [did for did in found if did.startswith("second")] == [f"second {n}" for n in range(40)]
