from pathlib import Path

import pytest
from sqlmodel import text

from app.actions.backups import tell_backup
from app.domain.people import Role
from app.storage.database import Database
from app.storage.ledger import head_of
from tests.builders import DAY, NOW, a_signed_revision
from tests.storage.ledgers import lift_guard
from tests.web.visits import Visits

PAGE = "/skerry/installation"


@pytest.fixture
def visits(database: Database, tmp_path: Path) -> Visits:
    visits = Visits(database, tmp_path)
    visits.seed(a_signed_revision)
    return visits


def test_it_shows_version_backup_and_the_head_of_this_agency(visits: Visits) -> None:
    ada = visits.of(Role.ADMINISTRATOR)
    visits.of_outsider()
    never = ada.get(PAGE).text
    visits.seed(lambda tx: tell_backup(tx, name="b.zip", sha256="0" * 64, now=NOW))

    page = ada.get(PAGE).text

    count, head = visits.seed(lambda tx: head_of(tx, "skerry")) or (0, "")
    _, other = visits.seed(lambda tx: head_of(tx, "elsewhere")) or (0, "")
    assert "none was ever made" in never
    assert "Marchstone 0." in page
    assert "2 Mar 2026, 09:00" in page
    assert head in page
    assert f"{count} entries" in page
    assert other not in page
    assert "Make one every night" not in page


def test_an_old_backup_is_said_to_be_old(visits: Visits) -> None:
    visits.seed(lambda tx: tell_backup(tx, name="b.zip", sha256="0" * 64, now=NOW - 2 * DAY))

    assert "Make one every night" in visits.of(Role.ADMINISTRATOR).get(PAGE).text


def test_the_ledger_is_proven_on_demand(visits: Visits) -> None:
    ada = visits.of(Role.ADMINISTRATOR)
    whole = ada.get(f"{PAGE}?prove=yes").text
    with visits.database.writing() as tx:
        lift_guard(tx)
        tx.execute(text("UPDATE ledger SET body = body || ' ' WHERE seq = 2"))

    broken = ada.get(f"{PAGE}?prove=yes").text

    assert "The ledger holds." in whole
    assert "broken at entry 2" in broken
    assert (
        "The ledger"
        not in ada.get(PAGE).text.partition("Ledger of this agency")[2].partition("Prove")[0]
    )


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.ADMINISTRATOR}))
def test_only_administrators_see_it(visits: Visits, role: Role) -> None:
    assert visits.of(role).get(PAGE).status_code == 403
