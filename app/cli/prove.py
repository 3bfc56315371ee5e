"""`marchstone prove`: is the record of every change whole?"""

import re
from argparse import Namespace
from pathlib import Path
from typing import Any

from app.cli import house
from app.cli.output import FINE, FOUND, print_json
from app.domain.errors import Refused
from app.domain.ledger import Proof
from app.settings import Settings

_HASH = re.compile(r"[0-9a-f]{64}", re.ASCII)
_FILE = "sqlite:///"
_INSTALLATION = "*"


def run(arguments: Namespace) -> int:
    head = arguments.head.strip().lower() if arguments.head is not None else None
    if head is not None and not _HASH.fullmatch(head):
        raise Refused.because("must be 64 hexadecimal digits", column="--head", value=head)
    proof = _proof(house.settings(), head)
    if arguments.json:
        print_json(_json(proof, head))
    else:
        print(_told(proof, head))
    return FINE if proof.holds else FOUND


def _proof(settings: Settings, head: str | None) -> house.LedgerProof:
    """Proving changes nothing: no migration, and no new database where there is none."""
    file = Path(settings.database_url.removeprefix(_FILE))
    if settings.database_url.startswith(_FILE) and not file.is_file():
        raise Refused.because(f"there is no database at {file}", column="MARCHSTONE_DATABASE_URL")
    return house.proof().proof_of(settings, head=head)


def _json(proof: house.LedgerProof, head: str | None) -> dict[str, Any]:
    told: dict[str, Any] = {
        "agencies": [_chain_json(agency, chain) for agency, chain in proof.chains.items()],
        "holds": proof.holds,
    }
    return told if head is None else told | {"head_found": proof.head_found}


def _chain_json(agency: str, chain: Proof) -> dict[str, Any]:
    return {
        "agency": agency,
        "holds": chain.holds,
        "entries": chain.entries,
        "head": chain.head,
        "broken_at": chain.broken_at,
        "why": chain.why,
    }


def _told(proof: house.LedgerProof, head: str | None) -> str:
    lines = [_chain_words(agency, chain) for agency, chain in proof.chains.items()]
    if not lines:
        lines.append("Nothing was ever written.")
    if head is not None:
        found = "is in the ledger" if proof.head_found else "is in no chain: entries were cut off"
        lines.append(f"The head kept outside {found}.")
    lines.append("The ledger holds." if proof.holds else "The ledger is broken.")
    return "\n".join(lines)


def _chain_words(agency: str, chain: Proof) -> str:
    name = "the installation" if agency == _INSTALLATION else agency
    if chain.holds:
        return f"{name}: {chain.entries} entries hold, head {chain.head}"
    if chain.broken_at is None:
        return f"{name}: every entry holds, but {chain.why}"
    return f"{name}: broken at entry {chain.broken_at}: {chain.why}"
