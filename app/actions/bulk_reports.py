"""Taking in many reports at once: what follows is the same as for each of them by itself."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import groupby
from json.encoder import encode_basestring_ascii as quoted

from sqlmodel import Session

from app.domain.device_reports import StateRead
from app.domain.devices import Device
from app.domain.file_lines import lines_in_short
from app.domain.finding_life import FindingKind
from app.domain.people import Person
from app.domain.reading_sets import ReadingSet, in_full
from app.exchange.judged_files import Judged
from app.storage import ledger
from app.storage.base import batches
from app.storage.device_blocks import DeviceBlock
from app.storage.finding_blocks import FindingBlock
from app.storage.report_blocks import JudgedReport, add_reports
from app.storage.sent_files import sent_file

MOST_IN_AN_ENTRY = 1000
_DEVICES_AT_ONCE = 1000
Source = tuple[str, Sequence[int]]
"""The fingerprint of the file, and the line of each of its rows."""


def store_reports(
    tx: Session,
    judged: Sequence[Judged],
    *,
    devices: Mapping[str, Device],
    revisions: Mapping[int, int],
    source: Source,
    by: Person,
    now: datetime,
) -> list[tuple[int, JudgedReport]]:
    """In the order in which they were read; the ledger is left to the caller.

    `devices` by tag; `revisions`: the row of each number.
    """
    fingerprint, lines = source
    file_id = sent_file(tx, fingerprint=fingerprint, by=by, now=now)
    verdicts = {id(judgement): judgement.verdicts for *_, judgement in judged}
    new = [
        JudgedReport(
            report,
            devices[report.device],
            None if number is None else (revisions[number], number),
            judgement,
            verdicts[id(judgement)],
            lines_in_short(report.rows, lines),
        )
        for report, number, _, judgement in sorted(judged, key=lambda one: one[0].read_at)
    ]
    numbered = list(zip(add_reports(tx, new, file_id=file_id, by=by, now=now), new, strict=True))
    _take_note(tx, numbered, by=by, now=now)
    return numbered


def _take_note(
    tx: Session, numbered: Sequence[tuple[int, JudgedReport]], *, by: Person, now: datetime
) -> None:
    """Device by device, and each in the order in which it was read."""

    def device(one: tuple[int, JudgedReport]) -> int:
        return one[1].device.id

    ordered = [(key, list(some)) for key, some in groupby(sorted(numbered, key=device), key=device)]
    for part in batches(ordered, _DEVICES_AT_ONCE):
        ids = [key for key, _ in part]
        known, findings = DeviceBlock(tx, ids, by=by), FindingBlock(tx, ids, by=by, now=now)
        for _, some in part:
            for number, one in some:
                if one.report.state_read is StateRead.IN_USE:
                    findings.take(number, one, FindingKind.USE)
                elif known.take(number, one, findings.unread(one)):
                    findings.take(number, one, FindingKind.HELD)
                else:
                    late = known.astray_since(number, one)
                    findings.take(number, one, FindingKind.HELD, only=late)
                    known.take_late(number, one, findings.not_verified(one))
        known.save()
        findings.save()


def tell_reports(
    tx: Session,
    stored: Sequence[tuple[int, JudgedReport]],
    *,
    file: str,
    by: Person,
    now: datetime,
) -> None:
    """An entry for every thousand reports, with their digest: whoever changes a report later, or
    how it was judged, no longer comes to it."""
    for some in batches(stored, MOST_IN_AN_ENTRY):
        about = {
            "file": file,
            "reports": _ranges([number for number, _ in some]),
            "count": len(some),
            "digest": digest_of(some),
        }
        ledger.append(
            tx,
            agency=by.agency,
            did="store reports of a file",
            by=by.username,
            at=now,
            about=about,
        )


def digest_of(stored: Sequence[tuple[int, JudgedReport]]) -> str:
    """SHA-256 over a line a report: number, device, preset, state, time, revision, SHA-256 of
    the values, and what deviates."""
    whole = hashlib.sha256()
    values: dict[ReadingSet, str] = {}
    for number, one in stored:
        whole.update(f"{_told(number, one, values)}\n".encode())
    return whole.hexdigest()


def _told(number: int, one: JudgedReport, values: dict[ReadingSet, str]) -> str:
    """A JSON list, put together by hand: the encoder takes longer than all the rest."""
    report, found = one.report, one.report.found
    digest = values.get(found)
    if digest is None:
        packed = found.packed
        digest = hashlib.sha256(packed.vals + packed.extras.encode()).hexdigest()
        values[found] = digest
    verdicts = (
        json.dumps([[alarm, *verdict] for alarm, verdict in sorted(one.verdicts.items())])
        if one.verdicts
        else "[]"
    )
    return (
        f"[{number}, {quoted(report.device)}, {quoted(report.preset)}, "
        f'"{report.state_read.value}", "{in_full(report.read_at)}", '
        f"{'null' if one.revision is None else one.revision[1]}, "
        f'"{digest}", {verdicts}]'
    )


def _ranges(numbers: Sequence[int]) -> list[list[int]]:
    """[first, last] of each unbroken stretch."""
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return found
