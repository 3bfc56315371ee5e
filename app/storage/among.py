"""Rows of many given numbers in one statement: a database bounds how many values one may be handed
singly, and a list as long as the fleet would make the statements as many."""

import json
from collections.abc import Iterable
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects.postgresql import ARRAY
from sqlmodel import Session


def among(tx: Session, column: Any, numbers: Iterable[int]) -> Any:
    """`column` is one of them."""
    if tx.get_bind().dialect.name == "postgresql":
        return column == sa.any_(sa.literal(list(numbers), ARRAY(sa.BigInteger)))
    listed = sa.func.json_each(json.dumps(list(numbers))).table_valued("value")
    return column.in_(sa.select(listed.c.value))
