"""Findings as CSV, one a row; times in UTC."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.domain.finding_life import Stamp, StoredFinding
from app.exchange.safe_csv import written

HEADER = (
    *("finding", "device", "station", "model", "preset", "alarm", "kind", "severity"),
    *("direction", "signed", "found", "consequence", "status", "accepted_until", "due_at"),
    *("overdue", "quarantined", "owner", "cause", "heard", "seen", "recurrences"),
    *("recurred_from", "opened_at", "opened_by_report", "contained_at", "contained_by"),
    *("corrected_at", "corrected_by", "verified_at", "verified_by", "verified_by_report"),
    *("closed_at", "closed_by", "note"),
)


@dataclass(frozen=True)
class ListedFinding:
    """With the signed and the found value in words, and what it means."""

    finding: StoredFinding
    signed: str
    found: str
    consequence: str


def findings_csv(listed: Iterable[ListedFinding], *, now: datetime) -> bytes:
    return written(HEADER, (_row(one, now) for one in listed))


def _row(listed: ListedFinding, now: datetime) -> list[object]:
    one = listed.finding
    accepted = one.accepted(now)
    return [
        *(one.id, one.device, one.station, one.model, one.preset, one.alarm, one.kind.value),
        *(one.severity.value, one.direction.value, listed.signed, listed.found),
        *(listed.consequence, one.status.value),
        None if accepted is None else accepted.until.isoformat(),
        _time(one.due_at),
        *("yes" if flag else "no" for flag in (one.overdue(now), one.quarantined)),
        None if one.owner is None else one.owner.name,
        *(None if said is None else said.value for said in (one.cause, one.heard, one.seen)),
        *(one.recurrences, one.recurred_from, _time(one.opened_at), one.opened_by),
        *_stamp(one.contained),
        *_stamp(one.corrected),
        *_stamp(one.verified),
        one.verified_by_report,
        *_stamp(one.closed),
        one.note,
    ]


def _stamp(stamp: Stamp | None) -> tuple[str | None, str | None]:
    return (None, None) if stamp is None else (_time(stamp.at), stamp.name)


def _time(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()
