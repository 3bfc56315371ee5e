"""Taking in many reports at once: what follows is the same as for each of them by itself."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import islice
from json.encoder import encode_basestring_ascii as quoted
from typing import Any

import numpy as np
from sqlmodel import Session

from app.domain.device_reports import StateRead
from app.domain.file_lines import FileLines, lines_in_short
from app.domain.finding_life import FindingKind
from app.domain.people import Person
from app.domain.reading_sets import in_full
from app.exchange.judged_files import JudgedReports
from app.storage import ledger
from app.storage.base import batches
from app.storage.device_blocks import DeviceBlock
from app.storage.devices import LockedDevice
from app.storage.finding_blocks import FindingBlock
from app.storage.numbering import new_numbers
from app.storage.report_blocks import JudgedReport, ReportBlock
from app.storage.reports import ReportRow
from app.storage.sent_files import sent_file

MOST_IN_AN_ENTRY = 1000
_DEVICES_AT_ONCE = 1000
_MOST_ALIKE = 5000
Source = tuple[str, FileLines]
"""The fingerprint of the file, and the line of each of its rows."""
Numbered = tuple[int, JudgedReport]
_LEFT_OUT = LockedDevice(0, "")
"""In the place of a device none of whose reports is taken in."""


def store_reports(
    tx: Session,
    judged: JudgedReports,
    *,
    devices: Mapping[str, LockedDevice],
    revisions: Mapping[int, int],
    source: Source,
    by: Person,
    now: datetime,
) -> list[dict[str, Any]]:
    """In the order in which they were read; the ledger is left to the caller, who gets what to
    tell in it: of every thousand reports with their digest, so that whoever changes a report
    later, or how it was judged, no longer comes to it.

    `devices` by tag; `revisions`: the row of each number.
    """
    fingerprint, lines = source
    file_id = sent_file(tx, fingerprint=fingerprint, by=by, now=now)
    in_time = judged.reports.in_time()
    numbers = new_numbers(tx, ReportRow, len(in_time))
    reports = _Stored(judged, devices, revisions, numbers, in_time)
    block = ReportBlock(tx, file_id=file_id, by=by, now=now)
    told, digests = [], _Digests()
    for some in batches(range(len(in_time)), MOST_IN_AN_ENTRY):
        part = [reports.numbered(at, lines) for at in some]
        block.add(part)
        told.append(_about(part, fingerprint, digests.of(part)))
    _take_note(tx, reports, by=by, now=now)
    return told


class _Stored:
    """Reports by their place in time, put together when they are asked for: all of them at once
    take ten times the room of what is known of them."""

    def __init__(
        self,
        judged: JudgedReports,
        devices: Mapping[str, LockedDevice],
        revisions: Mapping[int, int],
        numbers: Sequence[int],
        in_time: Sequence[int],
    ) -> None:
        self._reports, self._which = judged.reports, judged.which
        self._numbers, self._in_time = numbers, in_time
        self._devices = [devices.get(tag, _LEFT_OUT) for tag in judged.reports.devices]
        self._rulings = [
            (None if number is None else (revisions[number], number), judgement, judgement.verdicts)
            for number, _, judgement in judged.rulings
        ]

    def numbered(self, at: int, lines: FileLines | None = None) -> Numbered:
        """`lines`: to tell where in the file it stands."""
        place = self._in_time[at]
        report, case = self._reports[place], self._which[place]
        device = self._devices[self._reports.device[place]]
        told = "" if lines is None else lines_in_short(report.rows, lines)
        return self._numbers[at], JudgedReport(report, device, *self._rulings[case], case, told)

    def by_device(self) -> Iterator[list[Numbered]]:
        """Of each device in the order in which they were read."""
        ids = np.array([device.id for device in self._devices], np.int64)
        of_reports = ids[np.frombuffer(self._reports.device, np.uint32)][np.asarray(self._in_time)]
        ordered = np.argsort(of_reports, kind="stable")
        begin = 0
        for end in (*(np.flatnonzero(np.diff(of_reports[ordered])) + 1).tolist(), len(ordered)):
            yield [self.numbered(at) for at in ordered[begin:end].tolist()]
            begin = end


def _take_note(tx: Session, reports: _Stored, *, by: Person, now: datetime) -> None:
    each = reports.by_device()
    while part := list(islice(each, _DEVICES_AT_ONCE)):
        ids = [some[0][1].device.id for some in part]
        known, findings = DeviceBlock(tx, ids, by=by), FindingBlock(tx, ids, by=by, now=now)
        for some in part:
            _note(known, findings, some)
        known.save()
        findings.save()


def _note(known: DeviceBlock, findings: FindingBlock, some: Sequence[Numbered]) -> None:
    """All reports of one device."""
    waits = any(findings.not_verified(one) for _, one in some)
    if not waits and known.take_first(some):
        for number, one in some:
            findings.take(number, one, FindingKind.HELD)
        return
    for number, one in some:
        if one.report.state_read is StateRead.IN_USE:
            findings.take(number, one, FindingKind.USE)
        elif known.take(number, one, findings.unread(one)):
            findings.take(number, one, FindingKind.HELD)
        else:
            late = known.astray_since(number, one)
            findings.take(number, one, FindingKind.HELD, only=late)
            known.take_late(number, one, findings.not_verified(one))


def _about(some: Sequence[Numbered], file: str, digest: str) -> dict[str, Any]:
    return {
        "file": file,
        "reports": _ranges([number for number, _ in some]),
        "count": len(some),
        "digest": digest,
    }


def tell_reports(tx: Session, told: Sequence[dict[str, Any]], *, by: Person, now: datetime) -> None:
    """An entry for each of them."""
    for about in told:
        ledger.append(
            tx,
            agency=by.agency,
            did="store reports of a file",
            by=by.username,
            at=now,
            about=about,
        )


class _Digests:
    """SHA-256 over a line a report: number, device, preset, state, time, revision, SHA-256 of the
    values, and what deviates. A line is a JSON list, put together by hand from parts that many
    share: the encoder takes longer than all the rest."""

    def __init__(self) -> None:
        self._alike: dict[int, tuple[str, str]] = {}

    def of(self, some: Sequence[Numbered]) -> str:
        whole = "".join([self._line(number, one) for number, one in some])
        return hashlib.sha256(whole.encode()).hexdigest()

    def _line(self, number: int, one: JudgedReport) -> str:
        alike = self._alike.get(one.case)
        if alike is None:
            if len(self._alike) >= _MOST_ALIKE:
                self._alike.clear()
            alike = self._alike[one.case] = _before_and_behind(one)
        at = in_full(one.report.read_at)
        return f"[{number}, {quoted(one.report.device)}, {alike[0]}{at}{alike[1]}"


def _before_and_behind(one: JudgedReport) -> tuple[str, str]:
    """The time."""
    report, packed = one.report, one.report.found.packed
    digest = hashlib.sha256(packed.vals + packed.extras.encode()).hexdigest()
    told = [[alarm, *verdict] for alarm, verdict in sorted(one.verdicts.items())]
    revision = "null" if one.revision is None else one.revision[1]
    return (
        f'{quoted(report.preset)}, "{report.state_read.value}", "',
        f'", {revision}, "{digest}", {json.dumps(told)}]\n',
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
