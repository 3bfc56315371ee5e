"""What must hold of the data after the service died: no acknowledged change is lost, none is
there by half, and the ledger tells exactly what is stored."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from sqlmodel import Session, col, func, select, text

from app.domain.finding_life import FindingStatus
from app.lookups.ledger import prove_ledger
from app.storage.database import Database
from app.storage.finding_events import FindingEventRow
from app.storage.finding_rows import FindingRow
from app.storage.long_work import LongWorkRow
from app.storage.reports import ReportRow
from app.storage.revisions import RevisionRow
from app.storage.shift_checks import ShiftCheckRow
from app.storage.signatures import SignatureRow
from tests.faults.clients import Memory
from tests.storage.ledgers import bodies

_TOLD_AS = {
    "contain a finding": "contained",
    "correct a finding": "corrected",
    "comment on a finding": "commented",
}


def untruths(database: Database, memory: Memory) -> list[str]:
    """In words; empty where everything holds."""
    with database.reading() as tx:
        told = bodies(tx)
        return [
            *_of_the_ledger(tx),
            *_of_signatures(tx, told, memory),
            *_of_reports(tx, told, memory),
            *_of_works(tx, told, memory),
            *_of_checks(tx, told, memory),
            *_of_findings(tx, told, memory),
            *_of_the_file(tx),
        ]


def _of_the_ledger(tx: Session) -> Iterator[str]:
    for agency, chain in prove_ledger(tx).chains.items():
        if not chain.holds:
            yield f"the ledger of {agency}: {chain.why}"


def _of_signatures(tx: Session, told: list[dict[str, Any]], memory: Memory) -> Iterator[str]:
    signatures = set(
        tx.exec(select(RevisionRow.number).join(SignatureRow, _signs())).all(),
    )
    signed = set(tx.exec(select(RevisionRow.number).where(RevisionRow.status == "signed")).all())
    drafts = set(tx.exec(select(RevisionRow.number)).all())
    in_ledger = {body["about"]["revision"] for body in told if body["did"] == "sign"}
    if not signatures == signed == in_ledger:
        yield f"signatures {signatures ^ signed}, told {signed ^ in_ledger}"
    if memory.signed - signed or memory.drafts - drafts:
        yield f"lost: signed {memory.signed - signed}, drafts {memory.drafts - drafts}"
    started = sum(body["did"] == "start a draft" for body in told)
    if started != len(drafts):
        yield f"{len(drafts)} revisions, {started} told"


def _signs() -> Any:
    return col(SignatureRow.revision_id) == col(RevisionRow.id)


def _of_reports(tx: Session, told: list[dict[str, Any]], memory: Memory) -> Iterator[str]:
    stored = set(tx.exec(select(ReportRow.id)).all())
    in_ledger = {number for body in told for number in _reports_in(body)}
    if stored != in_ledger:
        yield f"reports that stand by half: {[*(stored ^ in_ledger)][:10]}"
    files = Counter(
        body["about"]["fingerprint"]
        for body in told
        if body["did"] == "take in a file of readings" and body["about"]["new"]
    )
    if memory.files - files.keys():
        yield f"files lost: {len(memory.files - files.keys())}"
    if any(times > 1 for times in files.values()):
        yield "a file was taken in twice"


def _of_works(tx: Session, told: list[dict[str, Any]], memory: Memory) -> Iterator[str]:
    """What was accepted waits, is done with its entry in the ledger, or failed without one."""
    rows = dict(tx.exec(select(LongWorkRow.id, LongWorkRow.state)).all())
    taken = {
        body["about"]["fingerprint"] for body in told if body["did"] == "take in a file of readings"
    }
    for number, fingerprint in memory.works.items():
        state = rows.get(number)
        if state is None:
            yield f"long work {number} is lost"
        elif (state == "done") != (fingerprint in taken):
            yield f"long work {number} is told as {state}"


def unfinished_works(database: Database, memory: Memory) -> Iterator[str]:
    """Once somebody had time for all of them."""
    with database.reading() as tx:
        for number, state in tx.exec(select(LongWorkRow.id, LongWorkRow.state)):
            if number in memory.works and state not in ("done", "failed"):
                yield f"long work {number} is still {state}"


def _reports_in(body: dict[str, Any]) -> Iterator[int]:
    about = body["about"]
    if "report" in about and body["did"] != "verify a finding":
        yield about["report"]
    for first, last in about.get("reports", ()):
        yield from range(first, last + 1)


def _of_checks(tx: Session, told: list[dict[str, Any]], memory: Memory) -> Iterator[str]:
    stored = Counter(tx.exec(select(ShiftCheckRow.idempotency_key)).all())
    count = sum(body["did"] == "check a device" for body in told)
    if memory.checks - stored.keys():
        yield f"checks lost: {sorted(memory.checks - stored.keys())[:10]}"
    if count != stored.total() or any(times > 1 for times in stored.values()):
        yield f"{stored.total()} checks of {len(stored)}, {count} told"


def _of_findings(tx: Session, told: list[dict[str, Any]], memory: Memory) -> Iterator[str]:
    kinds = dict(
        tx.exec(
            select(FindingEventRow.kind, func.count()).group_by(col(FindingEventRow.kind))
        ).all()
    )
    for did, kind in _TOLD_AS.items():
        count = sum(body["did"] == did for body in told)
        if count != kinds.get(kind, 0):
            yield f"{kinds.get(kind, 0)} times {kind}, {count} told"
    stands = dict(tx.exec(select(FindingRow.id, FindingRow.status)).all())
    order = [status.value for status in FindingStatus]
    for number, to, _ in memory.steps:
        if order.index(stands[number]) < order.index(to):
            yield f"finding {number} was {to} and is {stands[number]}"


def _of_the_file(tx: Session) -> Iterator[str]:
    if tx.get_bind().dialect.name != "sqlite":
        return
    for question in ("integrity_check", "foreign_key_check"):
        found = [tuple(row) for row in tx.execute(text(f"PRAGMA {question}"))]
        if found not in ([], [("ok",)]):
            yield f"{question}: {found[:3]}"
