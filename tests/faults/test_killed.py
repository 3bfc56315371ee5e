"""A few rounds of what `python -m tests.faults` does hundreds of times."""

from random import Random

import pytest
from sqlmodel import text

from app.storage.database import Database
from tests.faults.clients import Memory
from tests.faults.rounds import Told, furnished, kill_often
from tests.faults.truth import untruths
from tests.storage.ledgers import lift_guard

NOTHING = Memory()
_TOLD_AS_DONE = (
    "INSERT INTO long_work "
    "(id, agency_id, asked_by, kind, about, state, tries, asked_at, ended_at, outcome) "
    "VALUES (7, 1, 1, 're-audit', '{}', 'done', 1, '2026-03-02', '2026-03-02', '{}')"
)


def test_nothing_acknowledged_is_lost_when_the_service_is_killed(empty_url: str) -> None:
    told = Told()

    kill_often(empty_url, 3, Random(7), told, print)

    assert told.untrue == []
    assert told.rounds == 3
    assert told.acknowledged.total() > 0


@pytest.fixture
def service(sqlite_database: Database) -> Database:
    furnished(sqlite_database, devices=1, findings=1)
    return sqlite_database


def test_an_untouched_service_holds(service: Database) -> None:
    assert untruths(service, NOTHING) == []


@pytest.mark.parametrize(
    ("loss", "memory", "told"),
    [
        ("DELETE FROM signature", NOTHING, "signatures"),
        (
            "UPDATE revision SET document = replace(document, 'Ground', 'x')",
            NOTHING,
            "the ledger of skerry",
        ),
        ("DELETE FROM finding_event WHERE kind = 'opened'", Memory(files={"a"}), "files lost"),
        ("UPDATE finding SET id = id", Memory(checks={"a"}), "checks lost"),
        ("UPDATE finding SET id = id", Memory(steps={(1, "contained", "femi")}), "finding 1 was"),
        ("UPDATE finding SET id = id", Memory(signed={7}), "lost: signed {7}"),
        ("UPDATE finding SET id = id", Memory(drafts={7}), "drafts {7}"),
        ("UPDATE finding SET id = id", Memory(works={7: "a"}), "long work 7 is lost"),
        (_TOLD_AS_DONE, Memory(works={7: "a"}), "long work 7 is told as done"),
        ("DELETE FROM ledger WHERE seq = 3", NOTHING, "the ledger of skerry"),
        (
            "INSERT INTO finding_event (finding_id, kind, at, person_id, name, note, about) "
            "VALUES (1, 'contained', '2026-03-02', 1, 'Femi', '', '')",
            NOTHING,
            "1 times contained, 0 told",
        ),
    ],
)
def test_whatever_is_lost_is_seen(service: Database, loss: str, memory: Memory, told: str) -> None:
    """Or the rounds would prove nothing."""
    with service.writing() as tx:
        lift_guard(tx)
        tx.execute(text(loss))

    assert any(told in one for one in untruths(service, memory))


def test_a_report_by_half_is_seen(service: Database) -> None:
    with service.writing() as tx:
        tx.execute(text("PRAGMA defer_foreign_keys = ON"))
        columns = [row[1] for row in tx.execute(text("PRAGMA table_info(report)"))]
        kept = ", ".join(
            name for name in columns if name not in ("id", "idempotency_key", "read_at")
        )
        tx.execute(
            text(
                f"INSERT INTO report (idempotency_key, read_at, {kept}) "
                f"SELECT 'half', '2026-01-01', {kept} FROM report WHERE id = 1"
            )
        )

    assert any("by half" in one for one in untruths(service, NOTHING))
