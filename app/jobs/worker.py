"""A process that does long work, until it is stopped.

On PostgreSQL it takes from procrastinate's queue, and any number of such processes may run, on
any machine. On SQLite one of them works, and the others wait for it to end.
"""

import asyncio
import fcntl
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import procrastinate
import structlog

from app.actions.long_work import enqueue_missing
from app.jobs.doing import Clock, Later, do_work
from app.jobs.giving_way import giving_way
from app.lookups.long_work import QUEUE, TASK, queue_connection, unfinished

LOOKS_EVERY_S = 0.5
"""At a file that says nothing by itself."""
HEARTBEAT_S, DEAD_AFTER_S, SWEEPS_EVERY_S = 2.0, 12.0, 5.0
"""Of a process on PostgreSQL; what a dead one had begun, another begins anew."""
_log: Any = structlog.get_logger("marchstone")


def work_on_sqlite(database: Any, *, lock: Path, clock: Clock) -> None:
    """Whoever holds the lock is the only one, so what is told to be under way is left behind by
    one that died."""
    with _alone(lock):
        while True:
            do_all(database, clock=clock)
            time.sleep(LOOKS_EVERY_S)


def do_all(database: Any, *, clock: Clock) -> None:
    """Everything that waits now."""
    with database.reading() as tx:
        numbers = unfinished(tx)
    for number in numbers:
        try:
            do_work(database, number, clock=clock)
        except Later:
            return


@contextmanager
def _alone(lock: Path) -> Iterator[None]:
    """The lock goes with the process, however it ends."""
    with lock.open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield


def work_on_postgresql(database: Any, *, url: str, clock: Clock) -> None:
    asyncio.run(_work(queue_of(database, url=url, clock=clock), database))


def queue_of(database: Any, *, url: str, clock: Clock) -> procrastinate.App:
    connector = procrastinate.PsycopgConnector(**queue_connection(url), min_size=1, max_size=4)
    queue = procrastinate.App(connector=connector)

    @queue.task(name=TASK, queue=QUEUE)
    def do(number: int) -> None:
        giving_way(lambda: do_work(database, number, clock=clock))  # nobody waits for it to write

    return queue


async def _work(queue: procrastinate.App, database: Any) -> None:
    async with queue.open_async():
        sweeping = asyncio.create_task(_sweep_on(queue, database))
        try:
            await queue.run_worker_async(
                queues=[QUEUE],
                concurrency=1,
                delete_jobs="always",
                fetch_job_polling_interval=SWEEPS_EVERY_S,
                update_heartbeat_interval=HEARTBEAT_S,
                stalled_worker_timeout=DEAD_AFTER_S,
                install_signal_handlers=False,
            )
        finally:
            sweeping.cancel()


async def _sweep_on(queue: procrastinate.App, database: Any) -> None:
    while True:
        try:
            await sweep(queue, database)
        except Exception:  # the database may be away for a while
            _log.exception("the queue of long work could not be looked after")
        await asyncio.sleep(SWEEPS_EVERY_S)


async def sweep(queue: procrastinate.App, database: Any) -> None:
    """What a dead process had begun waits again; what stands in no queue gets its place."""
    manager = queue.job_manager
    for job in await manager.get_stalled_jobs(queue=QUEUE, seconds_since_heartbeat=DEAD_AFTER_S):
        await manager.retry_job(job)
    await asyncio.to_thread(_enqueue_missing, database)


def _enqueue_missing(database: Any) -> None:
    with database.writing() as tx:
        enqueue_missing(tx)
