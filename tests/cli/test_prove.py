import json
from argparse import Namespace
from pathlib import Path

import pytest
from sqlmodel import text

from app.cli.prove import run
from app.domain.errors import Refused
from app.domain.ledger import GENESIS
from app.storage.database import Database
from app.storage.ledger import append
from tests.builders import NOW, a_signed_revision, an_agency
from tests.storage.ledgers import lift_guard


def asked(*, head: str | None = None, as_json: bool = True) -> Namespace:
    return Namespace(head=head, json=as_json)


@pytest.fixture
def head(sqlite_database: Database, sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Of a ledger with three entries in the database that the settings name."""
    monkeypatch.setenv("MARCHSTONE_DATABASE_URL", sqlite_url)
    with sqlite_database.writing() as tx:
        an_agency(tx)
        append(tx, agency="skerry", did="one", by="dana", at=NOW)
        return append(tx, agency="skerry", did="two", by="dana", at=NOW)


def test_a_whole_ledger_is_told_agency_by_agency(
    head: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code = run(asked())

    told = json.loads(capsys.readouterr().out)
    assert code == 0
    assert told == {
        "agencies": [
            {
                "agency": "skerry",
                "holds": True,
                "entries": 3,
                "head": head,
                "broken_at": None,
                "why": None,
            }
        ],
        "holds": True,
    }


def test_an_altered_entry_is_named(
    head: str, sqlite_database: Database, capsys: pytest.CaptureFixture[str]
) -> None:
    with sqlite_database.writing() as tx:
        lift_guard(tx)
        tx.execute(text("UPDATE ledger SET body = replace(body, 'one', 'won') WHERE seq = 2"))

    assert run(asked()) == 1
    assert json.loads(capsys.readouterr().out)["agencies"][0]["broken_at"] == 2
    assert run(asked(as_json=False)) == 1
    assert "skerry: broken at entry 2" in capsys.readouterr().out
    assert head


@pytest.mark.parametrize(("kept", "code"), [("the head", 0), (GENESIS, 0), ("f" * 64, 1)])
def test_a_head_kept_outside_must_be_in_the_ledger(
    head: str, kept: str, code: int, capsys: pytest.CaptureFixture[str]
) -> None:
    wanted = head if kept == "the head" else kept

    assert run(asked(head=wanted)) == code
    told = json.loads(capsys.readouterr().out)
    assert told["head_found"] is told["holds"] is (code == 0)
    assert run(asked(head=wanted.upper(), as_json=False)) == code
    assert ("entries were cut off" in capsys.readouterr().out) is (code == 1)


@pytest.mark.parametrize("wrong", ["", "abc", "g" * 64])
def test_a_head_that_is_no_hash_is_refused(wrong: str) -> None:
    with pytest.raises(Refused, match="64 hexadecimal digits"):
        run(asked(head=wrong))


def test_proving_makes_no_database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MARCHSTONE_DATA_DIR", str(tmp_path / "none"))

    with pytest.raises(Refused, match="there is no database"):
        run(asked())

    assert not (tmp_path / "none").exists()


def test_a_signature_that_is_gone_is_told_without_an_entry(
    sqlite_database: Database, head: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        lift_guard(tx)
        tx.execute(text("DELETE FROM signature"))

    assert run(asked(as_json=False)) == 1
    told = "skerry: every entry holds, but revision 1 was signed, and its signature is gone"
    assert told in capsys.readouterr().out
    assert head
