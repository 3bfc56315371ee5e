"""The house, opened by name: only `app.main`, `app.proof`, `app.upkeep`, `app.working` and
`app.staffing` may plug the floors together, and a file command must not pay for importing them."""

import importlib
import os
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol, cast

from app.domain.backups import Backup
from app.domain.ledger import Proof
from app.domain.people import Person
from app.domain.selftest import Observed
from app.settings import Settings


class Main(Protocol):
    DEMO_AGENCY: str
    DEMO_SIGN_INS: Sequence[Any]
    demo_database: Callable[[Settings], Any]

    def serve(
        self,
        settings: Settings,
        *,
        open_house: Callable[[Settings], Any] = ...,
        greeting: str = "",
        demo: bool = False,
    ) -> int: ...


class LedgerProof(Protocol):
    chains: Mapping[str, Proof]
    head_found: bool

    @property
    def holds(self) -> bool: ...


class Proving(Protocol):
    def proof_of(self, settings: Settings, *, head: str | None) -> LedgerProof: ...


class Working(Protocol):
    def work(self, settings: Settings, *, beside: bool = False) -> None: ...


class Staffing(Protocol):
    def staff(
        self, settings: Settings, agency: str
    ) -> tuple[Sequence[Person], Sequence[Person]]: ...

    def invite_person(
        self,
        settings: Settings,
        agency: str,
        username: str,
        name: str,
        roles: Sequence[str],
        now: datetime,
    ) -> str: ...

    def link_for(
        self,
        settings: Settings,
        agency: str,
        username: str,
        now: datetime,
        *,
        again: bool = False,
    ) -> str: ...

    def close(self, settings: Settings, agency: str, username: str, now: datetime) -> int: ...

    def sign_out(self, settings: Settings, agency: str, username: str, now: datetime) -> int: ...


class Kept(Protocol):
    file: Path
    sha256: str
    backup: Backup
    told: bool


class Upkeep(Protocol):
    def back_up(self, settings: Settings, file: Path | None, *, now: datetime) -> Kept: ...

    def export_agency(self, settings: Settings, key: str, file: Path, *, now: datetime) -> Kept: ...

    def restore(
        self, settings: Settings, file: Path, *, now: datetime
    ) -> tuple[Backup, LedgerProof]: ...

    def import_agency(
        self, settings: Settings, file: Path, *, now: datetime
    ) -> tuple[Backup, LedgerProof]: ...

    def observed(self, settings: Settings, *, now: datetime) -> Observed: ...


def main() -> Main:
    return cast("Main", importlib.import_module("app.main"))


def proof() -> Proving:
    return cast("Proving", importlib.import_module("app.proof"))


def staffing() -> Staffing:
    return cast("Staffing", importlib.import_module("app.staffing"))


def working() -> Working:
    return cast("Working", importlib.import_module("app.working"))


def upkeep() -> Upkeep:
    return cast("Upkeep", importlib.import_module("app.upkeep"))


def settings() -> Settings:
    return Settings.from_environment(os.environ)
