"""A backup is told in the ledger of the installation, so that its age can be seen."""

from datetime import datetime

from sqlmodel import Session

from app.domain.backups import DEED
from app.storage import ledger

OPERATOR = "operator"
"""Whoever stands at the machine."""


def tell_backup(tx: Session, *, name: str, sha256: str, now: datetime) -> None:
    """Afterwards: the entry is not in the backup itself."""
    ledger.open_chain(tx, ledger.INSTALLATION)
    ledger.append(
        tx,
        agency=ledger.INSTALLATION,
        did=DEED,
        by=OPERATOR,
        at=now,
        about={"file": name, "sha256": sha256},
    )
