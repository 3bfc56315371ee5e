from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, replace

from sqlmodel import Session

from app.domain.ledger import GENESIS, Proof, prove
from app.domain.told_signings import Signing, noting, strayed
from app.storage import ledger
from app.storage.signings import signings


@dataclass(frozen=True)
class LedgerProof:
    """One chain an agency, and one, `*`, of the installation.

    `head_found` False: the head kept outside is in none of them, so entries were cut off.
    """

    chains: Mapping[str, Proof]
    head_found: bool

    @property
    def holds(self) -> bool:
        return self.head_found and all(proof.holds for proof in self.chains.values())


def prove_ledger(tx: Session, *, head: str | None = None) -> LedgerProof:
    """Reads every entry of every agency; memory stays flat."""
    chains = {agency: prove_agency(tx, agency=agency) for agency in ledger.chains(tx)}
    found = head in (None, GENESIS) or ledger.has_entry(tx, head or "")
    return LedgerProof(chains, found)


def prove_agency(tx: Session, *, agency: str, head: str | None = None) -> Proof:
    """The chain, its head, and that every signature and what it stands under are as it tells."""
    told: dict[str, Signing] = {}
    with closing(ledger.entries(tx, agency)) as entries:
        proof = prove(noting(entries, told), head)
    if not proof.holds:
        return proof
    written = ledger.head_of(tx, agency)
    if written != (proof.entries, proof.head):
        count, last = written or (0, "nothing")
        why = f"the head was last written as {last} after {count} entries"
        return replace(proof, holds=False, broken_at=proof.entries + 1, why=why)
    astray = strayed(told, signings(tx, agency))
    return proof if astray is None else replace(proof, holds=False, why=astray)


def head_of(tx: Session, *, agency: str) -> str:
    """What a signed paper carries, so that a tail cut off later shows."""
    written = ledger.head_of(tx, agency)
    return GENESIS if written is None else written[1]
