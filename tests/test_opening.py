"""What was there before an upgrade can be brought back, from either database."""

from pathlib import Path

import pytest
import sqlalchemy as sa

from app import upkeep
from app.domain.errors import MarchstoneError
from app.lookups.ledger import prove_ledger
from app.opening import open_house
from app.settings import Settings
from app.storage.database import Database
from app.storage.engine import make_engine
from app.storage.migrating import schema_of
from tests.builders import DAY, NOW
from tests.storage.older import KEPT, fill
from tests.storage.whole_databases import everything


def at(url: str, folder: Path) -> Settings:
    return Settings(data_dir=folder, database_url=url)


def backups(folder: Path) -> list[Path]:
    return sorted((folder / "backups").glob("*"))


@pytest.mark.parametrize("rows", KEPT, ids=lambda path: path.stem)
def test_postgresql_is_backed_up_before_it_is_upgraded(
    empty_postgresql_url: str, tmp_path: Path, rows: Path
) -> None:
    fill(empty_postgresql_url, rows)
    settings = at(empty_postgresql_url, tmp_path)

    upgraded = open_house(settings, now=NOW)
    open_house(settings, now=NOW + DAY).dispose()  # nothing to upgrade any more

    (file,) = backups(tmp_path)
    assert file.name == f"before-upgrade-from-{rows.stem}-20260302T090000Z.zip"
    back = at(f"sqlite:///{tmp_path / 'back' / 'marchstone.sqlite3'}", tmp_path / "back")
    backup, proof = upkeep.restore(back, file, now=NOW)
    assert (backup.schema, proof.holds) == (rows.stem, True)
    restored = Database(back.database_url)
    assert everything(restored) == everything(upgraded)
    restored.dispose()
    upgraded.dispose()


def test_where_no_backup_can_be_made_nothing_is_upgraded(
    empty_postgresql_url: str, tmp_path: Path
) -> None:
    fill(empty_postgresql_url, KEPT[0])
    (tmp_path / "backups").write_text("a file where the folder should be")

    with pytest.raises(MarchstoneError, match="cannot be written"):
        open_house(at(empty_postgresql_url, tmp_path), now=NOW)

    database = Database(empty_postgresql_url)
    assert schema_of(database) == KEPT[0].stem
    database.dispose()


def test_a_new_database_has_nothing_to_keep(empty_postgresql_url: str, tmp_path: Path) -> None:
    made = open_house(at(empty_postgresql_url, tmp_path), now=NOW)
    with made.reading() as tx:
        assert prove_ledger(tx).holds
    made.dispose()

    assert backups(tmp_path) == []


def test_while_it_is_copied_others_read_and_nobody_writes(
    empty_postgresql_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(empty_postgresql_url, KEPT[-1])
    other, seen = make_engine(empty_postgresql_url), []

    def look(*_: object) -> None:
        with other.connect() as connection:
            seen.append(connection.execute(sa.text("SELECT count(*) FROM agency")).scalar())
            connection.execute(sa.text("SET lock_timeout = 100"))
            with pytest.raises(sa.exc.OperationalError, match="lock timeout"):
                connection.execute(sa.text("UPDATE agency SET name = 'late'"))

    monkeypatch.setattr("app.storage.migrating.copy_older", look)
    open_house(at(empty_postgresql_url, tmp_path), now=NOW).dispose()
    other.dispose()

    assert seen == [2]
