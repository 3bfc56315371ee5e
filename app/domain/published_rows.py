"""The published ranges behind a look-up, row by row, for whoever has to find one alone."""

from dataclasses import dataclass

from app.domain.ages import BIRTH, AgeSpan
from app.domain.centiles import CentileRow, CentileTable
from app.domain.look_up import FIRST_SIGNS
from app.domain.reference_ranges import PUBLISHED
from app.domain.vital_signs import VITAL_SIGNS


@dataclass(frozen=True)
class PublishedRow:
    """1st to 99th centile."""

    span: AgeSpan
    low: float
    high: float


@dataclass(frozen=True)
class PublishedSign:
    """`at_birth`: what is printed for birth alone and goes before the rows."""

    sign: str
    unit: str
    source: str
    rows: tuple[PublishedRow, ...]
    at_birth: PublishedRow | None


def published_signs() -> list[PublishedSign]:
    """Of the signs that crews see first, those with a table from the 1st to the 99th centile."""
    found = []
    for sign in FIRST_SIGNS:
        table = PUBLISHED.table_for(sign)
        if table is not None and (told := _sign(sign, table)).rows:
            found.append(told)
    return found


def _sign(sign: str, table: CentileTable) -> PublishedSign:
    name = PUBLISHED.named_in(table, sign)
    birth = table.at(name, BIRTH) if name in table.at_birth else None
    return PublishedSign(
        sign,
        VITAL_SIGNS[sign].shown,
        table.source,
        tuple(_row(row) for row in table.of(name) if _is_whole(row)),
        None if birth is None or not _is_whole(birth) else _row(birth),
    )


def _is_whole(row: CentileRow) -> bool:
    return (row.centiles[0], row.centiles[-1]) == (1, 99)


def _row(row: CentileRow) -> PublishedRow:
    return PublishedRow(row.span, row.values[0], row.values[-1])
