"""Published ranges, a module per publication; `PUBLISHED` is what rules and look-ups use."""

from app.domain.centiles import CentileTable, References
from app.domain.reference_ranges import fleming_2011

PUBLISHED = References((fleming_2011.TABLE,))


def with_own_table(table: CentileTable | None) -> References:
    """An agency's own table speaks first for the vital signs it holds."""
    return PUBLISHED if table is None else References((table, *PUBLISHED.tables))
