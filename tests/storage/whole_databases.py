"""Everything that a database holds, to compare two of them."""

from typing import Any

from app.storage.agency_rows import all_rows
from app.storage.database import Database


def everything(database: Database) -> dict[str, list[dict[str, Any]]]:
    with database.reading() as tx:
        return {
            name: [dict(row) for row in tx.execute(query).mappings()]
            for name, query in all_rows().items()
        }


def not_empty(database: Database) -> set[str]:
    return {name for name, rows in everything(database).items() if rows}
