"""Many rows of one table, written with one statement of the driver.

SQLAlchemy takes a dictionary a row and looks at every value by its name; for a hundred thousand
rows that costs more than the database does.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from sqlalchemy import Dialect, LargeBinary
from sqlmodel import Session

from app.storage.base import Row

Convert = Callable[[Any], Any]


def insert_many(
    tx: Session, table: type[Row], columns: Sequence[str], rows: Iterable[Sequence[Any]]
) -> None:
    """Values in the order of `columns`; a column that is not named is left to its default."""
    connection = tx.connection()
    whole = table.__table__  # type: ignore[attr-defined]
    quote = connection.dialect.identifier_preparer.quote
    convert = [_convert(whole.c[name].type, connection.dialect) for name in columns]
    found = _converted(convert, rows)
    if found:
        mark = "?" if connection.dialect.paramstyle == "qmark" else "%s"
        names, marks = ", ".join(map(quote, columns)), ", ".join([mark] * len(columns))
        # Names of our own tables and columns only; every value is handed over beside it.
        into = f"INSERT INTO {quote(whole.name)} ({names}) VALUES ({marks})"  # noqa: S608
        connection.exec_driver_sql(into, found)


def _convert(kind: Any, dialect: Dialect) -> Convert | None:
    """The drivers take bytes as they are."""
    if isinstance(kind, LargeBinary):
        return None
    found: Convert | None = kind.dialect_impl(dialect).bind_processor(dialect)
    return found


def _converted(
    convert: Sequence[Convert | None], rows: Iterable[Sequence[Any]]
) -> list[tuple[Any, ...]]:
    """Column by column: most need nothing."""
    columns = list(zip(*rows, strict=True))
    if not columns:
        return []
    changed = (
        column if change is None else _each(change, column)
        for change, column in zip(convert, columns, strict=True)
    )
    return list(zip(*changed, strict=True))


def _each(change: Convert, column: Sequence[Any]) -> list[Any]:
    """The same value, such as the time at which all came in, once."""
    known = {value: change(value) for value in set(column)}
    return [known[value] for value in column]
