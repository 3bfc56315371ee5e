"""The house, opened by name: only `app.main` and `app.proof` may plug the floors together, and a
file command must not pay for importing them."""

import importlib
import os
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Protocol, cast

from app.domain.ledger import Proof
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


def main() -> Main:
    return cast("Main", importlib.import_module("app.main"))


def proof() -> Proving:
    return cast("Proving", importlib.import_module("app.proof"))


def settings() -> Settings:
    return Settings.from_environment(os.environ)
