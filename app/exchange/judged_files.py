"""New reports of a file, each judged by what was in force when the device was read."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

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


_Alike = tuple[int, int | None, str, tuple[Column, ...]]
"""Revision, version of the bounds, model and layout: judged together."""


def judge_file(reports: Sequence[BlockReport], known: KnownFleet) -> list[Judged]:
    """In the order of the reports. Without a policy in force they are kept and not judged."""
    alike: dict[_Alike, dict[ReadingSet, BlockReport]] = defaultdict(dict)
    places: list[_Alike | None] = []
    for report in reports:
        place = _place(report, known)
        places.append(place)
        if place is not None:
            alike[place].setdefault(report.found, report)
    verdicts = {place: _verdicts(place, sets, known) for place, sets in alike.items()}
    shared: dict[tuple[SetVerdict, StateRead, int | None], Judgement] = {}
    found: list[Judged] = []
    for report, place in zip(reports, places, strict=True):
        if place is None:
            found.append((report, None, None, Judgement()))
            continue
        verdict = verdicts[place][report.found]
        key = verdict, report.state_read, report.told.minutes_off
        if key not in shared:
            shared[key] = verdict.judgement(report.state_read, report.told.minutes_off)
        found.append((report, place[0], verdict, shared[key]))
    return found


def _place(report: BlockReport, known: KnownFleet) -> _Alike | None:
    line = known.line_at(report.read_at)
    if line is None:
        return None
    version = in_force_among(known.versions, report.read_at)
    bounds = None if version is None else version.number
    return line.number, bounds, known.models[report.device], report.found.columns


def _verdicts(
    place: _Alike, sets: Mapping[ReadingSet, BlockReport], known: KnownFleet
) -> dict[ReadingSet, SetVerdict]:
    some = next(iter(sets.values()))
    profile = known.profile_at(some.read_at)
    if profile is None:
        raise RuntimeError("a policy that judges has a profile")
    bounds = known.bounds_at(some.read_at)
    found = judge_sets(profile, place[2], list(sets), bounds=bounds, choices=known.choices)
    return dict(zip(sets, found, strict=True))
