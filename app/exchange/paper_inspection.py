"""The report in front of an inspection file."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.exchange.typst_papers import Press

TEMPLATE = "inspection"


@dataclass(frozen=True)
class ReportTable:
    """All of it text. `about`: what to know of it; `widths` beside each other, empty: all alike."""

    title: str
    about: str
    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    widths: Sequence[int] = ()


def inspection_pdf(
    press: Press,
    *,
    agency: str,
    facts: Sequence[tuple[str, str]],
    tables: Sequence[ReportTable],
    at: datetime,
) -> bytes:
    data: Mapping[str, Any] = {
        "title": f"Inspection report, {agency}",
        "agency": agency,
        "facts": [list(fact) for fact in facts],
        "tables": [
            {
                "title": one.title,
                "about": one.about,
                "header": list(one.header),
                "widths": list(one.widths or [1] * len(one.header)),
                "rows": [list(row) for row in one.rows],
            }
            for one in tables
        ],
    }
    return press.set_paper(TEMPLATE, data, at=at)
