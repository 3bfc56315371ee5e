"""The files of an inspection file, out of what pages and papers tell as well."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from fastapi import Request

from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.measures import Times
from app.domain.people import Person
from app.domain.revisions import StoredRevision
from app.exchange.findings_csv import ListedFinding, findings_csv
from app.exchange.inspection_file import Contents
from app.exchange.inspection_tables import READINGS, Table, reading_rows, readings_csv, workbook
from app.exchange.paper_inspection import ReportTable, inspection_pdf
from app.exchange.paper_policy import policy_pdf
from app.exchange.paper_words import moment
from app.lookups import findings as finding_lookups
from app.lookups.inspections import Inspected, inspected
from app.lookups.papers import policy_paper
from app.web.compared import label_of
from app.web.findings import shown
from app.web.measures import duration_words
from app.web.transactions import Transaction

_PERCENT = 100


def contents_of(
    request: Request,
    tx: Transaction,
    person: Person,
    since: datetime,
    until: datetime,
    now: datetime,
) -> Contents:
    agency = person.agency_id
    found = inspected(tx, agency_id=agency, since=since, until=until, now=now)
    listed = list(_findings(tx, agency, until, now))
    owner = request.app.state.agencies.of(person.agency)
    base = request.app.state.settings.public_url or str(request.base_url)
    press = request.app.state.press
    papers = {
        one.number: policy_pdf(press, paper, base=base)
        for one in found.revisions
        for paper in [policy_paper(tx, agency_id=agency, number=one.number, now=now)]
    }
    facts = list(_facts(found, person, (since, until, now), owner.time_zone))
    told = list(_report(found, listed, now, owner.time_zone))
    report = inspection_pdf(press, agency=owner.name, facts=facts, tables=told, at=now)
    return Contents(
        report,
        workbook(_tables(found, listed)),
        readings_csv(found.reports),
        findings_csv(listed, now=now),
        found.revisions,
        papers,
        found.ledger,
    )


def _findings(
    tx: Transaction, agency: int, until: datetime, now: datetime
) -> Iterator[ListedFinding]:
    pages = finding_lookups.findings(tx, agency_id=agency, now=now, statuses=tuple(FindingStatus))
    for page in pages:
        if page.finding.opened_at <= until:
            one = shown(page, now)
            yield ListedFinding(one.finding, one.line.signed, one.line.found, one.line.sentence)


def _facts(
    found: Inspected, person: Person, times: tuple[datetime, datetime, datetime], zone: str
) -> Iterator[tuple[str, str]]:
    since, until, now = (moment(one, zone) for one in times)
    told = found.measures
    yield "Period", f"{since} to {until}"
    yield "Made", f"{now} by {person.name}"
    yield "Ledger", f"{len(found.ledger)} entries, head {found.head}"
    yield "Devices", f"{told.fleet} in use; {told.overdue} overdue, {told.never} of them never read"
    holding = told.holding
    if holding.interval is not None:
        low, high = (_PERCENT * end for end in (holding.interval.low, holding.interval.high))
        yield (
            "Hold the policy",
            f"{holding.found} of {holding.of} judged; {low:.0f} to {high:.0f} % of the fleet "
            f"with 95 % confidence ({holding.interval.method}). What is not judged counts on "
            "neither side.",
        )
    yield "Looser to tighter", f"{told.looser} to {told.tighter} alarms"
    yield "Readings in the period", f"{len(found.reports)} reports"


def _report(
    found: Inspected, listed: Sequence[ListedFinding], now: datetime, zone: str
) -> Iterator[ReportTable]:
    yield ReportTable(
        "Policies signed",
        "Each lies in profiles/ exactly as signed, and in papers/ as its signed paper.",
        ("Revision", "Status", "In force from", "Signed by", "Review by", "Waivers"),
        [_policy(found, one, zone) for one in found.revisions],
        (2, 3, 6, 6, 3, 2),
    )
    yield ReportTable(
        "What strays most",
        "Devices, and presets in each direction, by the latest reading of each preset.",
        ("Alarm", "Devices", "Looser or off", "Tighter or on"),
        [
            (label_of(one.alarm), str(one.devices), str(one.looser), str(one.tighter))
            for one in found.measures.worst
        ],
        (3, 1, 1, 1),
    )
    yield _mending(found)
    still = [one for one in listed if one.finding.status is not FindingStatus.CLOSED]
    yield ReportTable(
        "Findings not closed",
        f"{len(still)} of {len(listed)} that were ever opened; all of them are in findings.csv.",
        ("Finding", "Device", "What it means", "Severity", "Stage", "Overdue"),
        [_still_open(one, now) for one in still],
        (2, 5, 11, 3, 3, 3),
    )


def _mending(found: Inspected) -> ReportTable:
    return ReportTable(
        "How long mending takes",
        "Findings opened in the period: median / 90th centile from the opening. One that is still "
        "open counts as at least so long.",
        ("Severity", "Contained", "Corrected", "Verified"),
        [
            (one.severity.value, *map(_took, (one.contained, one.corrected, one.verified)))
            for one in found.measures.mending
        ],
    )


def _took(times: Times) -> str:
    if not times.count:
        return "none"
    middle, late = duration_words(times.middle), duration_words(times.ninetieth)
    return f"{middle} / {late} ({times.done} of {times.count} done)"


def _policy(found: Inspected, one: StoredRevision, zone: str) -> tuple[str, ...]:
    return (
        str(one.number),
        one.status.words,
        "" if one.in_force_at is None else moment(one.in_force_at, zone),
        ", ".join(f"{by.name} ({_roles(by.roles)})" for by in one.signatures),
        str(one.review_by or ""),
        str(len(found.waivers[one.number])),
    )


def _roles(roles: Sequence[str]) -> str:
    return ", ".join(role.replace("-", " ") for role in roles)


def _still_open(listed: ListedFinding, now: datetime) -> tuple[str, ...]:
    one = listed.finding
    return (
        str(one.id),
        f"{one.device}, {one.preset}",
        listed.consequence,
        one.severity.value,
        _stage(one, now),
        "OVERDUE" if one.overdue(now) else "",
    )


def _stage(one: StoredFinding, now: datetime) -> str:
    accepted = one.accepted(now)
    return (
        one.status.value
        if accepted is None
        else f"{one.status.value}, accepted until {accepted.until}"
    )


def _tables(found: Inspected, listed: Sequence[ListedFinding]) -> dict[str, Table]:
    return {
        "Devices": (
            ("device", "model", "station", "presets read", "of", "oldest reading", "clearance"),
            [_device(found, mark) for mark in found.marks],
        ),
        "Readings": (READINGS, reading_rows(found.reports)),
        "Deviations": (
            ("report", "device", "read_at", "preset", "alarm", "direction", "severity"),
            [
                (one.id, one.device, one.read_at, one.preset, alarm, way.value, grade.value)
                for one in found.reports
                for alarm, (way, grade) in one.verdicts.items()
            ],
        ),
        "Findings": (
            ("finding", "device", "preset", "alarm", "severity", "stage", "what it means"),
            [_finding(one) for one in listed],
        ),
        **_signed_tables(found),
    }


def _finding(listed: ListedFinding) -> Sequence[object]:
    one = listed.finding
    return (
        *(one.id, one.device, one.preset, one.alarm, one.severity.value, one.status.value),
        listed.consequence,
    )


def _signed_tables(found: Inspected) -> dict[str, Table]:
    return {
        "Revisions": (
            ("revision", "status", "fingerprint", "signed at", "in force from", "until"),
            [
                (
                    *(one.number, one.status.value, one.fingerprint, one.signed_at),
                    *(one.in_force_at, one.until),
                )
                for one in found.revisions
            ],
        ),
        "Signatures": (
            ("revision", "name", "username", "roles", "at", "meaning", "fingerprint"),
            [
                (
                    *(one.number, by.name, by.username, ", ".join(by.roles), by.at),
                    *(by.meaning, by.fingerprint),
                )
                for one in found.revisions
                for by in one.signatures
            ],
        ),
        "Waivers": (
            ("revision", "finding", "by", "at", "until", "reason"),
            [
                (number, one.message, one.by_name, one.waived_at, one.until, one.reason)
                for number, waivers in found.waivers.items()
                for one in waivers
            ],
        ),
    }


def _device(found: Inspected, mark: Any) -> Sequence[object]:
    device = mark.device
    clearance = found.clearances.get(device.tag)
    words = "" if clearance is None else clearance.state.words
    return (
        *(device.tag, device.model, device.station, mark.presets_read, mark.presets_offered),
        *(mark.oldest_read_at, words),
    )
