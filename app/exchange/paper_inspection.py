"""The report in front of an inspection file."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from app.exchange.typst_papers import Press

TEMPLATE = "inspection"


def inspection_pdf(
    press: Press,
    *,
    agency: str,
    facts: Sequence[tuple[str, str]],
    tables: Sequence[tuple[str, str, Sequence[str], Sequence[Sequence[str]]]],
    at: datetime,
) -> bytes:
    """`tables`: title, what to know of it, header and rows, all of it text."""
    data: Mapping[str, Any] = {
        "title": f"Inspection report, {agency}",
        "agency": agency,
        "facts": [list(fact) for fact in facts],
        "tables": [
            {
                "title": title,
                "about": about,
                "header": list(header),
                "rows": [list(row) for row in rows],
            }
            for title, about, header, rows in tables
        ],
    }
    return press.set_paper(TEMPLATE, data, at=at)
