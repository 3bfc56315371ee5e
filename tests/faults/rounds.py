"""One round: a service begins to work, something goes wrong at a moment that a die chooses, such as
that it is killed, and its data are held against what it acknowledged."""

import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Protocol

import sqlalchemy as sa
from sqlmodel import Session

from app.actions.sign_ins import sign_in
from app.domain.people import Role
from app.jobs.worker import do_all
from app.storage.database import Database
from app.storage.migrating import open_database
from tests.builders import PASSWORD, a_device, a_person, a_report, a_signed_revision, as_signed
from tests.builders import limit as at
from tests.faults.clients import Client, Memory
from tests.faults.deeds import DEEDS, DEVICES, FINDINGS, until_gone
from tests.faults.nursery import Nursery, kill
from tests.faults.truth import unfinished_works, untruths

LONGEST = 1.5  # seconds from the first request to the end
PEOPLE = {
    "anna": Role.AUTHOR,
    "cruz": Role.CREW,
    "dana": Role.MEDICAL_DIRECTOR,
    "femi": Role.FLEET_MANAGER,
    "tess": Role.TECHNICIAN,
}


@dataclass
class Told:
    """Over all rounds."""

    rounds: int = 0
    acknowledged: Counter[str] = field(default_factory=Counter)
    untrue: list[str] = field(default_factory=list)
    refused: set[tuple[int, str]] = field(default_factory=set)


@dataclass
class Serving:
    """One service, the process that does its long work, and a client for each deed."""

    process: int
    worker: int
    clients: dict[str, Client]

    def kill(self, dice: Random) -> None:
        for one in dice.sample([self.process, self.worker], 2):
            kill(one)


class Fault(Protocol):
    """What goes wrong in a round, and how the service comes out of it."""

    def strike(self, serving: Serving, dice: Random) -> None: ...

    def mend(self, serving: Serving) -> None:
        """Nobody asks anything any more. Afterwards all its processes are gone."""


class ServiceKilled:
    def strike(self, serving: Serving, dice: Random) -> None:
        serving.kill(dice)

    def mend(self, serving: Serving) -> None:
        """Nothing is left of it."""


def kill_often(
    url: str,
    rounds: int,
    dice: Random,
    told: Told,
    show: Callable[[str], None],
    fault: Fault | None = None,
) -> None:
    """Over one database, which is made here."""
    database = open_database(url, now=datetime.now(UTC))
    tokens, memory, nursery = furnished(database), Memory(), Nursery(url)
    try:
        for number in range(rounds):
            _round(nursery, tokens, memory, dice, told, fault or ServiceKilled())
            database.dispose()
            _wait_for_server(database)
            told.rounds += 1
            for one in untruths(database, memory):
                told.untrue.append(f"round {number + 1}: {one}")
                show(told.untrue[-1])
        do_all(database, clock=lambda: datetime.now(UTC))
        for one in [*untruths(database, memory), *unfinished_works(database, memory)]:
            told.untrue.append(f"at the end: {one}")
            show(told.untrue[-1])
    finally:
        nursery.close()
        database.dispose()


def furnished(
    database: Database, *, devices: int = DEVICES, findings: int = FINDINGS
) -> dict[str, str]:
    """With people, devices and findings; the token of everybody's session."""
    with database.writing() as tx:
        a_signed_revision(tx)
        for number in range(devices):
            a_device(tx, f"file-{number}")
            a_device(tx, f"shift-{number}")
        for number in range(findings):
            a_device(tx, f"stray-{number}")
            a_report(tx, as_signed(heart_rate_high=at(200)), device=f"stray-{number}")
        return {name: _token(tx, role) for name, role in PEOPLE.items()}


def _token(tx: Session, role: Role) -> str:
    person = a_person(tx, role)
    return sign_in(
        tx,
        agency=person.agency,
        username=person.username,
        password=PASSWORD,
        now=datetime.now(UTC),
        address="127.0.0.1",
        lasts=timedelta(days=1),
    )


def _round(
    nursery: Nursery,
    tokens: dict[str, str],
    memory: Memory,
    dice: Random,
    told: Told,
    fault: Fault,
) -> None:
    process, worker, port = nursery.new_service()
    serving = Serving(process, worker, {name: Client(port, tokens) for name in DEEDS})
    clients = serving.clients
    with ThreadPoolExecutor(len(DEEDS)) as threads:
        working = [
            threads.submit(until_gone, deed, clients[name], memory, dice.randrange(1000))
            for name, deed in DEEDS.items()
        ]
        try:
            _until_answered(list(clients.values()), working)
            time.sleep(dice.uniform(0, LONGEST))
        finally:
            fault.strike(serving, dice)
            for client in clients.values():
                client.over.set()
        for ended in working:
            ended.result()
    fault.mend(serving)
    for name, client in clients.items():
        told.acknowledged[name] += client.answered
        told.refused |= client.refused


def _until_answered(clients: list[Client], working: list[Future[None]]) -> None:
    """The first request of a new process takes long, and is not what the die is thrown for."""
    until = time.monotonic() + 30
    while time.monotonic() < until and not any(client.answered for client in clients):
        if any(one.done() for one in working):
            return
        time.sleep(0.005)


def _wait_for_server(database: Database) -> None:
    """PostgreSQL notices only after a while that a client is gone."""
    if database.engine.dialect.name == "sqlite":
        return
    others = sa.text(
        "SELECT count(*) FROM pg_stat_activity "
        "WHERE datname = current_database() AND pid <> pg_backend_pid()"
    )
    for _ in range(200):
        with database.engine.connect() as connection:
            if connection.execute(others).scalar_one() == 0:
                return
        time.sleep(0.05)
