"""One piece of long work, from its beginning to its outcome: what a route does for a request."""

from collections.abc import Callable
from datetime import datetime
from typing import Any, BinaryIO

import structlog

from app.actions.long_work import (
    Begun,
    asked_with,
    begin_work,
    finish_work,
    give_work_up,
    hold_work,
    put_work_back,
)
from app.actions.reaudits import outcome_of, reaudit
from app.actions.report_files import read_file, take_file
from app.domain.errors import MarchstoneError
from app.domain.long_work import BROKEN, Failure, WorkKind
from app.domain.people import Person
from app.exchange.judged_files import JudgedFile
from app.jobs.giving_way import giving_way
from app.jobs.looking import look_at_file

Clock = Callable[[], datetime]
_BUSY = 503
_log: Any = structlog.get_logger("marchstone")


class Later(Exception):
    """The data are busy or out of reach; the work waits again."""


def do_work(database: Any, number: int, *, clock: Clock) -> None:
    """Done and told as done, or neither, whenever this process ends. Raises Later."""
    with database.writing() as tx:
        begun = begin_work(tx, number=number, now=clock())
    if begun is None:
        return
    try:
        _DOING[begun.kind](database, begun, clock)
    except MarchstoneError as error:
        if error.status == _BUSY:
            with database.writing() as tx:
                put_work_back(tx, begun)
            raise Later from error
        _give_up(database, begun, Failure.of(error), clock)
    except Exception:
        _log.exception("long work failed", work=number)
        _give_up(database, begun, BROKEN, clock)


def _give_up(database: Any, begun: Begun, failure: Failure, clock: Clock) -> None:
    with database.writing() as tx:
        give_work_up(tx, begun, failure=failure, now=clock())


def _take_in(database: Any, begun: Begun, clock: Clock) -> None:
    """Reading keeps nobody from writing and gives way, storing does not: on SQLite everybody else
    who writes waits for it."""
    now = clock()
    by, content, read = giving_way(lambda: _read(database, begun, now))
    with database.writing() as tx:
        hold_work(tx, begun)
        good_rows = begun.about["good_rows"]
        taken = take_file(tx, content=content, good_rows=good_rows, by=by, now=now, read=read)
        finish_work(tx, begun, outcome=vars(taken), now=clock())


def _read(database: Any, begun: Begun, now: datetime) -> tuple[Person, BinaryIO, JudgedFile]:
    with database.reading() as tx:
        by, content = asked_with(tx, number=begun.number)
        return by, content, read_file(tx, content=content, by=by, now=now)


def _reaudit(database: Any, begun: Begun, clock: Clock) -> None:
    with database.writing() as tx:
        hold_work(tx, begun)
        by, _ = asked_with(tx, number=begun.number)
        done = reaudit(tx, by=by, now=clock())
        finish_work(tx, begun, outcome=outcome_of(done), now=clock())


_DOING: dict[WorkKind, Callable[[Any, Begun, Clock], None]] = {
    WorkKind.LOOK: look_at_file,
    WorkKind.TAKE_IN: _take_in,
    WorkKind.REAUDIT: _reaudit,
}
