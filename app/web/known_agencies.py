"""Names and zones of the agencies, kept: the frame of every page shows them."""

from typing import Any

from app.domain.agencies import Agency
from app.lookups.agencies import agency


class KnownAgencies:
    """An agency's name and zone never change while the service runs."""

    def __init__(self, database: Any) -> None:
        self._database = database
        self._found: dict[str, Agency] = {}

    def of(self, key: str) -> Agency:
        """Raises NotFound."""
        if key not in self._found:
            with self._database.reading() as tx:
                self._found[key] = agency(tx, key=key)
        return self._found[key]
