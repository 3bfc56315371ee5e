"""Accounts on the machine itself, where nobody can sign in as administrator any more."""

from pathlib import Path

import pytest

from app.actions.accounts import close_account
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import NOW, a_person
from tests.cli.running import Shell
from tests.storage.ledgers import bodies


@pytest.fixture
def service(
    sqlite_database: Database, sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Database:
    monkeypatch.setenv("MARCHSTONE_DATABASE_URL", sqlite_url)
    monkeypatch.setenv("MARCHSTONE_DATA_DIR", str(tmp_path / "data"))
    with sqlite_database.writing() as tx:
        a_person(tx, Role.ADMINISTRATOR)
        a_person(tx, Role.MEDICAL_DIRECTOR)
    return sqlite_database


def test_everybody_is_listed_and_the_closed_told_apart(service: Database, shell: Shell) -> None:
    with service.writing() as tx:
        close_account(tx, username="dana", by=a_person(tx, Role.ADMINISTRATOR), now=NOW)

    ended = shell.run("people", "list", "skerry", "--json")

    assert ended.code == 0
    told = {one["username"]: (one["roles"], one["account"]) for one in ended.json["people"]}
    assert told == {
        "ada": (["administrator"], "open"),
        "dana": (["medical-director"], "closed"),
    }
    assert "medical-director" in shell.run("people", "list", "skerry").out


def test_a_lost_password_is_set_by_a_link(service: Database, shell: Shell) -> None:
    ended = shell.run("people", "link", "skerry", "ada")

    assert ended.code == 0
    assert "/invitation/" in ended.out
    with service.reading() as tx:
        assert bodies(tx)[-1]["by"] == "operator"


def test_somebody_is_invited_closed_and_comes_back(service: Database, shell: Shell) -> None:
    asked = ("skerry", "abe", "--name", "Abe", "--role", "administrator")
    assert "/invitation/" in shell.run("people", "invite", *asked).out

    assert shell.run("people", "close", "skerry", "abe", "--json").json["ended"] == 0
    assert "/invitation/" in shell.run("people", "open-again", "skerry", "abe").out
    assert shell.run("people", "sign-out", "skerry", "abe").out == "abe: 0 sessions ended.\n"
    with service.reading() as tx:
        assert [body["did"] for body in bodies(tx)][-1] == "end the sessions of a person"


@pytest.mark.usefixtures("service")
@pytest.mark.parametrize(
    ("asked", "reason"),
    [
        (["list", "nowhere"], "There is no agency nowhere here."),
        (["link", "skerry", "olu"], "There is nobody of that name."),
        (["close", "skerry"], "say whose account"),
        (["close", "skerry", "ada"], "Nobody else could sign in as administrator."),
        (["invite", "skerry", "abe", "--name", "Abe"], "give at least one role"),
        (["invite", "skerry", "abe", "--name", "Abe", "--role", "boss"], "there is no such role"),
    ],
)
def test_what_cannot_be_done_is_said(shell: Shell, asked: list[str], reason: str) -> None:
    ended = shell.run("people", *asked)

    assert ended.code == 2
    assert reason in ended.err
