"""Plugs together what `marchstone prove` needs, and no more: it must not pay for the pages."""

from app.lookups.ledger import LedgerProof, prove_ledger
from app.settings import Settings
from app.storage.database import Database


def proof_of(settings: Settings, *, head: str | None) -> LedgerProof:
    """Of the database as it is: a proof changes nothing, not even the schema."""
    house = Database(settings.database_url)
    try:
        with house.reading() as tx:
            return prove_ledger(tx, head=head)
    finally:
        house.dispose()
