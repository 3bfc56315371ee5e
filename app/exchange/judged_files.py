"""New reports of a file, each judged by what was in force when the device was read."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from app.domain.bounds_versions import in_force_among
from app.domain.device_reports import StateRead
from app.domain.fleet import Column, Judgement
from app.domain.judged_sets import SetVerdict, judge_sets
from app.domain.reading_sets import BlockReport, ReadingSet
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_files import ReportFile

Judged = tuple[BlockReport, int | None, SetVerdict | None, Judgement]
"""The report, the number of the revision that judged it, what was found, and what it comes to."""


@dataclass(frozen=True)
class JudgedFile:
    """Read and judged by what was known then; `known` tells whether that still holds."""

    file: ReportFile
    judged: list[Judged]
    known: KnownFleet
    fingerprint: str


_Law = tuple[int, int | None]
"""Numbers of the revision, and of the version of the bounds, None: the default."""
_Key = tuple[_Law, str, ReadingSet]
"""What judges, the model, and what was found: judged once."""
_Alike = tuple[_Law, str, tuple[Column, ...]]
"""Judged together."""


def judge_file(reports: Sequence[BlockReport], known: KnownFleet) -> list[Judged]:
    """In the order of the reports. Without a policy in force they are kept and not judged."""
    keys = _keys(reports, known)
    verdicts = _verdicts(reports, keys, known)
    shared: dict[tuple[SetVerdict, StateRead, int | None], Judgement] = {}
    found: list[Judged] = []
    for report, key in zip(reports, keys, strict=True):
        if key is None:
            found.append((report, None, None, Judgement()))
            continue
        verdict, minutes = verdicts[key], report.told.minutes_off
        judgement = shared.get((verdict, report.state_read, minutes))
        if judgement is None:
            judgement = verdict.judgement(report.state_read, minutes)
            shared[verdict, report.state_read, minutes] = judgement
        found.append((report, key[0][0], verdict, judgement))
    return found


def _keys(reports: Sequence[BlockReport], known: KnownFleet) -> list[_Key | None]:
    laws: dict[datetime, _Law | None] = {}
    keys: list[_Key | None] = []
    for report in reports:
        if report.read_at not in laws:
            laws[report.read_at] = _law(report.read_at, known)
        law = laws[report.read_at]
        keys.append(None if law is None else (law, known.models[report.device], report.found))
    return keys


def _law(at: datetime, known: KnownFleet) -> _Law | None:
    line, version = known.line_at(at), in_force_among(known.versions, at)
    if line is None:
        return None
    return line.number, None if version is None else version.number


def _verdicts(
    reports: Sequence[BlockReport], keys: Sequence[_Key | None], known: KnownFleet
) -> dict[_Key, SetVerdict]:
    first: dict[_Key, BlockReport] = {}
    for report, key in zip(reports, keys, strict=True):
        if key is not None:
            first.setdefault(key, report)
    alike: dict[_Alike, list[_Key]] = defaultdict(list)
    for key in first:
        law, model, found = key
        alike[law, model, found.columns].append(key)
    verdicts: dict[_Key, SetVerdict] = {}
    for some in alike.values():
        _judge_alike(some, first[some[0]].read_at, known, verdicts)
    return verdicts


def _judge_alike(
    keys: Sequence[_Key], at: datetime, known: KnownFleet, verdicts: dict[_Key, SetVerdict]
) -> None:
    profile = known.profile_at(at)
    if profile is None:
        raise RuntimeError("a policy that judges has a profile")
    model, sets = keys[0][1], [found for *_, found in keys]
    bounds = known.bounds_at(at)
    judged = judge_sets(profile, model, sets, bounds=bounds, choices=known.choices)
    verdicts.update(zip(keys, judged, strict=True))
