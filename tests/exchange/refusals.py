"""What a reader refuses, as (line, column, value, reason)."""

from collections.abc import Callable

import pytest

from app.domain.errors import Refused

Told = tuple[int | None, int | str | None, object, str]


def refused(read: Callable[[], object]) -> list[Told]:
    with pytest.raises(Refused) as error:
        read()
    return [(f.line, f.column, f.value, f.reason) for f in error.value.faults]
