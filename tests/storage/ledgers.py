"""Questions that many tests ask of the ledger."""

import json
from typing import Any

from sqlmodel import Session, col, select

from app.storage.ledger import LedgerRow


def bodies(tx: Session, agency: str = "skerry") -> list[dict[str, Any]]:
    wanted = select(LedgerRow.body).where(LedgerRow.agency == agency).order_by(col(LedgerRow.seq))
    return [json.loads(body) for body in tx.exec(wanted)]


def deeds(tx: Session, agency: str = "skerry") -> list[str]:
    return [body["did"] for body in bodies(tx, agency)]
