"""Questions that many tests ask of the ledger, and how to tamper with it."""

import json
from typing import Any

from sqlmodel import Session, col, select, text

from app.storage.ledger import LedgerRow


def bodies(tx: Session, agency: str = "skerry") -> list[dict[str, Any]]:
    wanted = select(LedgerRow.body).where(LedgerRow.agency == agency).order_by(col(LedgerRow.seq))
    return [json.loads(body) for body in tx.exec(wanted)]


def deeds(tx: Session, agency: str = "skerry") -> list[str]:
    return [body["did"] for body in bodies(tx, agency)]


def lift_guard(tx: Session) -> None:
    """As somebody with every right at the database could; on PostgreSQL until the commit."""
    if tx.get_bind().dialect.name == "postgresql":
        tx.execute(text("SET LOCAL session_replication_role = replica"))
        return
    for name in tx.scalars(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).all():
        tx.execute(text(f"DROP TRIGGER {name}"))
