"""What every table shares. Import this before any table: names of constraints hang on it."""

from collections.abc import Iterable, Iterator, Sequence
from typing import TypeVar

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel
from sqlmodel._compat import SQLModelConfig

SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

Value = TypeVar("Value")


class Row(SQLModel):
    """Built only by the storage functions, from core objects.

    A table class checks nothing by itself when it is built; `validate_assignment` is a second
    net behind that rule and the CHECK constraints, no replacement for either.
    """

    model_config = SQLModelConfig(validate_assignment=True)


def batches(values: Sequence[Value], size: int = 500) -> Iterator[Sequence[Value]]:
    """Databases bound how many values one statement may be handed."""
    for start in range(0, len(values), size):
        yield values[start : start + size]


def one_of(column: str, values: Iterable[str]) -> CheckConstraint:
    listed = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def filled(column: str) -> CheckConstraint:
    return CheckConstraint(f"{column} <> ''", name=f"{column}_filled")


def both_or_neither(first: str, second: str) -> CheckConstraint:
    return CheckConstraint(f"({first} IS NULL) = ({second} IS NULL)", name=f"{first}_with_{second}")


def sha256_hex(column: str) -> CheckConstraint:
    return CheckConstraint(f"length({column}) = 64", name=f"{column}_is_sha256")


class NumberedRow(Row):
    id: int | None = Field(default=None, primary_key=True)

    @property
    def saved_id(self) -> int:
        if self.id is None:
            raise RuntimeError(f"{type(self).__name__} has no number before it is flushed")
        return self.id
