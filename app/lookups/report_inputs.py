"""Where what was read came from, for whoever doubts a report."""

from dataclasses import dataclass

from sqlmodel import Session

from app.storage.report_origins import report_origin


@dataclass(frozen=True)
class FilePlace:
    """`fingerprint`: SHA-256 of the file, as the ledger has it; `lines`: its rows, such as 2-41."""

    fingerprint: str
    lines: str


def file_place(tx: Session, *, report_id: int) -> FilePlace | None:
    """None where it came by itself, or before places were kept. The caller has checked whose it
    is."""
    found = report_origin(tx, report_id)
    if found.fingerprint is None or found.lines is None:
        return None
    return FilePlace(found.fingerprint, found.lines)
