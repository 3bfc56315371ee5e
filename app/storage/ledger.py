"""The append-only record of every change, one hash chain an agency.

Rows hold plain text and no foreign keys, so that history never blocks or follows a deletion.
"""

from collections.abc import Generator, Mapping
from datetime import datetime
from typing import Any

import rfc8785
from sqlalchemy import CheckConstraint, update
from sqlmodel import Field, Session, Text, col, select

from app.domain.ledger import GENESIS, Entry, entry_hash
from app.storage.agencies import AgencyRow
from app.storage.base import Row, filled, sha256_hex

INSTALLATION = "*"
"""The chain for what belongs to no agency; no agency can have this key."""


class LedgerRow(Row, table=True):
    __tablename__ = "ledger"
    __table_args__ = (
        filled("agency"),
        filled("body"),
        sha256_hex("prev"),
        sha256_hex("hash"),
        CheckConstraint("seq > 0", name="seq_positive"),
    )

    agency: str = Field(primary_key=True)
    seq: int = Field(primary_key=True)
    body: str = Field(sa_type=Text)
    prev: str
    hash: str = Field(unique=True)


class LedgerHeadRow(Row, table=True):
    __tablename__ = "ledger_head"
    __table_args__ = (
        filled("agency"),
        sha256_hex("hash"),
        CheckConstraint("seq >= 0", name="seq_not_negative"),
    )

    agency: str = Field(primary_key=True)
    seq: int
    hash: str


def open_chain(tx: Session, agency: str) -> None:
    if tx.get(LedgerHeadRow, agency) is None:
        tx.add(LedgerHeadRow(agency=agency, seq=0, hash=GENESIS))
        tx.flush()


def append(
    tx: Session,
    *,
    agency: str,
    did: str,
    by: str,
    at: datetime,
    about: Mapping[str, Any] | None = None,
) -> str:
    """The new head. The last thing an action does: from here to the commit all others wait."""
    body = rfc8785.dumps(
        {"agency": agency, "did": did, "by": by, "at": at.isoformat(), "about": about or {}}
    ).decode()
    head = col(LedgerHeadRow.agency) == agency
    tx.flush()
    seq, prev = tx.exec(
        update(LedgerHeadRow)
        .where(head)
        .values(seq=LedgerHeadRow.seq + 1)
        .returning(col(LedgerHeadRow.seq), col(LedgerHeadRow.hash))
    ).one()
    following = entry_hash(prev, body)
    tx.add(LedgerRow(agency=agency, seq=seq, body=body, prev=prev, hash=following))
    tx.flush()
    tx.exec(update(LedgerHeadRow).where(head).values(hash=following))
    return following


def entries(tx: Session, agency: str) -> Generator[Entry]:
    """In their order, without holding them all in memory; close it if you stop half-way."""
    wanted = select(LedgerRow).where(LedgerRow.agency == agency).order_by(col(LedgerRow.seq))
    with tx.exec(wanted.execution_options(yield_per=1000)) as found:
        for row in found:
            yield Entry(row.seq, row.body, row.prev, row.hash)


def head_of(tx: Session, agency: str) -> tuple[int, str] | None:
    """(how many entries, hash of the last)."""
    head = LedgerHeadRow
    row = tx.exec(select(head.seq, head.hash).where(head.agency == agency)).one_or_none()
    return None if row is None else (row[0], row[1])


def has_entry(tx: Session, head: str) -> bool:
    return tx.exec(select(LedgerRow.seq).where(LedgerRow.hash == head)).first() is not None


def place_of(tx: Session, agency: str, head: str) -> int | None:
    """Which entry of the agency's chain has this hash."""
    wanted = select(LedgerRow.seq).where(LedgerRow.hash == head, LedgerRow.agency == agency)
    return tx.exec(wanted).first()


def entry_of_signing(tx: Session, agency: str, *, fingerprint: str) -> Entry | None:
    """Looks through the bodies: for the rare printing of a paper, not for a page."""
    body = col(LedgerRow.body)
    wanted = (
        select(LedgerRow)
        .where(LedgerRow.agency == agency, body.contains(f'"fingerprint":"{fingerprint}"'))
        .where(body.contains('"did":"sign"'))
        .order_by(col(LedgerRow.seq))
        .limit(1)
    )
    row = tx.exec(wanted).first()
    return None if row is None else Entry(row.seq, row.body, row.prev, row.hash)


def last_of(tx: Session, agency: str, *, did: str) -> Entry | None:
    """The latest entry of one deed; looks through the bodies, for a rare question."""
    body = col(LedgerRow.body)
    wanted = (
        select(LedgerRow)
        .where(LedgerRow.agency == agency, body.contains(f'"did":"{did}"'))
        .order_by(col(LedgerRow.seq).desc())
        .limit(1)
    )
    row = tx.exec(wanted).first()
    return None if row is None else Entry(row.seq, row.body, row.prev, row.hash)


def latest(tx: Session) -> list[Entry]:
    """The last entry of every chain."""
    wanted = select(LedgerRow).join(
        LedgerHeadRow,
        (col(LedgerHeadRow.agency) == col(LedgerRow.agency))
        & (col(LedgerHeadRow.seq) == col(LedgerRow.seq)),
    )
    return [Entry(row.seq, row.body, row.prev, row.hash) for row in tx.exec(wanted)]


def chains(tx: Session) -> list[str]:
    """Also those that have rows but no head, or a head but no rows, and agencies that have
    neither: all would be tampering."""
    named = select(LedgerHeadRow.agency).union(select(LedgerRow.agency), select(AgencyRow.key))
    return sorted(tx.scalars(named))
