"""Signatures as the ledger tells them, held against those that are stored."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from app.domain.ledger import Entry

_REVISION, _BOUNDS = "sign", "sign outer bounds"


@dataclass(frozen=True)
class Signing:
    """`fingerprint` is of what was signed; of a stored signature, of what is there now."""

    fingerprint: str
    by: str
    meaning: str


Signings = Mapping[str, Signing]
"""By what was signed, in words."""


def revision_named(number: int) -> str:
    return f"revision {number}"


def bounds_named(number: int) -> str:
    return f"version {number} of the outer bounds"


def noting(entries: Iterable[Entry], told: dict[str, Signing]) -> Iterator[Entry]:
    """The same entries; the signatures among them are put into `told`."""
    for entry in entries:
        if f'"did":"{_REVISION}"' in entry.body:
            _note(entry, told, "revision")
        elif f'"did":"{_BOUNDS}"' in entry.body:
            _note(entry, told, "version")
        yield entry


def _note(entry: Entry, told: dict[str, Signing], numbered: str) -> None:
    try:
        body = json.loads(entry.body)
        about = body["about"]
        named = revision_named if numbered == "revision" else bounds_named
        signing = Signing(about["fingerprint"], body["by"], about["meaning"])
        told[named(about[numbered])] = signing
    except (ValueError, LookupError, TypeError):
        return  # an altered entry, which the chain itself tells


def strayed(told: Signings, stored: Signings) -> str | None:
    """The first signature that is not as the ledger tells it, in words."""
    for what in sorted(told.keys() | stored.keys(), key=_in_order):
        if what not in stored:
            return f"{what} was signed, and its signature is gone"
        if what not in told:
            return f"{what} bears a signature that the ledger does not know"
        if told[what].fingerprint != stored[what].fingerprint:
            return f"{what} is no longer the document that was signed"
        if told[what] != stored[what]:
            return f"{what} no longer says who signed it as what"
    return None


def _in_order(what: str) -> tuple[bool, int, str]:
    return (not what.startswith("revision"), len(what), what)
