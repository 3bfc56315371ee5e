"""Two processes sign at the same moment, each with a connection of its own."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from app.domain.moves import RevisionStatus
from app.domain.people import Role
from app.lookups.ledger import prove_agency
from app.lookups.revisions import all_revisions
from app.storage.database import Database
from tests.builders import NOW, a_document, a_person, a_revision_in_review
from tests.storage.ledgers import deeds

ROOT = Path(__file__).parents[2]
SIGN = """
import json, sys
from datetime import UTC, datetime

from app.actions.signing import sign_revision
from app.domain.errors import MarchstoneError
from app.storage.database import Database
from tests.builders import NOW, PASSWORD, a_person

url, number, fingerprint = sys.argv[1], int(sys.argv[2]), sys.argv[3]
database = Database(url)
with database.reading() as tx:
    dana = a_person(tx)
print("ready", flush=True)
sys.stdin.readline()
try:
    with database.writing() as tx:
        sign_revision(tx, number=number, fingerprint=fingerprint, meaning="ours",
                      password=PASSWORD, by=dana, now=NOW)
    print(json.dumps(""))
except MarchstoneError as refused:
    print(json.dumps(refused.message))
"""


def at_once(url: str, *wanted: tuple[int, str]) -> list[str]:
    """What each process was told, "" for signed; both wait for the same moment."""
    signers = [
        subprocess.Popen(
            [sys.executable, "-c", SIGN, url, str(number), fingerprint],
            cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        for number, fingerprint in wanted
    ]  # fmt: skip
    for one in signers:
        assert one.stdout is not None
        assert one.stdout.readline() == "ready\n"
    for one in signers:
        assert one.stdin is not None
        one.stdin.write("now\n")
        one.stdin.flush()
    return [json.loads(one.communicate(timeout=180)[0]) for one in signers]


@pytest.fixture
def two(database: Database) -> list[tuple[int, str]]:
    with database.writing() as tx:
        a_person(tx, Role.MEDICAL_DIRECTOR)
        documents = (a_document(), a_document({"heart-rate-high": 165}))
        found = [a_revision_in_review(tx, document=one) for one in documents]
        return [(one.number, one.fingerprint) for one in found]


def test_the_same_revision_is_signed_once(
    database: Database, database_url: str, two: list[tuple[int, str]]
) -> None:
    told = at_once(database_url, two[0], two[0])

    assert sorted(map(bool, told)) == [False, True]
    with database.reading() as tx:
        assert deeds(tx).count("sign") == 1
        assert prove_agency(tx, agency="skerry").holds


def test_of_two_revisions_the_later_number_holds_or_the_earlier_is_refused(
    database: Database, database_url: str, two: list[tuple[int, str]]
) -> None:
    told = at_once(database_url, *two)

    with database.reading() as tx:
        (agency,) = {a_person(tx).agency_id}
        lines = all_revisions(tx, agency_id=agency, now=NOW)
        held = [line.number for line in lines if line.status is RevisionStatus.IN_FORCE]
        assert deeds(tx).count("sign") == told.count("")
        assert prove_agency(tx, agency="skerry").holds
    assert told[1] == ""
    assert told[0] in ("", "Revision 2 is signed already; start a new draft from it.")
    assert held == [2]
