"""What every route is handed: a transaction it cannot look into, and the time."""

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any

from fastapi import Depends, Request

Transaction = Any  # opaque here: only storage knows what is in it


def _reading(request: Request) -> Iterator[Transaction]:
    with request.app.state.database.reading() as tx:
        yield tx


def _writing(request: Request) -> Iterator[Transaction]:
    with request.app.state.database.writing() as tx:
        yield tx


def _now(request: Request) -> datetime:
    now: datetime = request.app.state.clock()
    return now


# scope="function": the commit happens before the answer is sent, so no "saved" can be a lie.
Reading = Annotated[Transaction, Depends(_reading, scope="function")]
Writing = Annotated[Transaction, Depends(_writing, scope="function")]
Now = Annotated[datetime, Depends(_now)]
