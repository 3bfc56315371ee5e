import json
from datetime import datetime

from sqlmodel import Session

from app.domain.backups import DEED
from app.storage import ledger


def last_backup_at(tx: Session) -> datetime | None:
    """As the ledger of the installation tells; whether the file is still there is not known."""
    entry = ledger.last_of(tx, ledger.INSTALLATION, did=DEED)
    return None if entry is None else datetime.fromisoformat(json.loads(entry.body)["at"])
