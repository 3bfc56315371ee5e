"""What an administrator and a monitor ask of the service itself."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.ledger import GENESIS, Proof
from app.lookups.backups import last_backup_at
from app.lookups.ledger import prove_agency
from app.storage import ledger
from app.storage.migrating import newest_schema, schema_in
from app.storage.observing import clock_of_server, size_of


@dataclass(frozen=True)
class Installation:
    """`entries` and `head` are of the agency that asks; `proof` only if it was asked for."""

    database: str
    schema: str
    newest: str
    database_bytes: int
    server_now: datetime | None
    last_backup_at: datetime | None
    entries: int
    head: str
    proof: Proof | None = None


def installation(tx: Session, *, agency: str, prove: bool = False) -> Installation:
    entries, head = ledger.head_of(tx, agency) or (0, GENESIS)
    return Installation(
        database="PostgreSQL" if tx.get_bind().dialect.name == "postgresql" else "SQLite",
        schema=schema_in(tx),
        newest=newest_schema(),
        database_bytes=size_of(tx),
        server_now=clock_of_server(tx),
        last_backup_at=last_backup_at(tx),
        entries=entries,
        head=head,
        proof=prove_agency(tx, agency=agency) if prove else None,
    )


def is_ready(tx: Session) -> bool:
    """It answers, and its schema is the one that this program works with."""
    return schema_in(tx) == newest_schema()


def counted(tx: Session) -> tuple[int, datetime | None]:
    """Entries of all ledgers together; the last backup."""
    return sum(entry.seq for entry in ledger.latest(tx)), last_backup_at(tx)
