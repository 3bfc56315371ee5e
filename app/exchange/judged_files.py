"""New reports of a file, each judged by what was in force when the device was read."""

from array import array
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from app.domain.block_reports import BlockReports, moment_of
from app.domain.bounds_versions import in_force_among
from app.domain.fleet import Column, Judgement
from app.domain.judged_sets import SetVerdict, judge_sets
from app.domain.reading_sets import BlockReport, ReadingSet
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_files import ReportFile

Judged = tuple[BlockReport, int | None, SetVerdict | None, Judgement]
"""The report, the number of the revision that judged it, what was found, and what it comes to."""
Ruling = tuple[int | None, SetVerdict | None, Judgement]
"""The same, without the report: thousands of these share it."""


@dataclass(frozen=True)
class JudgedReports:
    """`which` of the rulings is of each report."""

    reports: BlockReports
    rulings: Sequence[Ruling]
    which: Sequence[int]

    def __len__(self) -> int:
        return len(self.which)

    def __iter__(self) -> Iterator[Judged]:
        for report, ruling in zip(self.reports, self.which, strict=True):
            yield (report, *self.rulings[ruling])


@dataclass(frozen=True)
class JudgedFile:
    """Read and judged by what was known then; `known` tells whether that still holds. `head` of
    the agency's ledger: as long as it is the same, nothing has changed."""

    file: ReportFile
    judged: JudgedReports
    known: KnownFleet
    fingerprint: str
    head: tuple[int, str] | None


_Law = tuple[int, int | None]
"""Numbers of the revision, and of the version of the bounds, None: the default."""
_Key = tuple[_Law, str, ReadingSet]
"""What judges, the model, and what was found: judged once."""
_Alike = tuple[_Law, str, tuple[Column, ...]]
"""Judged together."""
_Case = tuple[_Law | None, str, int, int]
"""Law, model, and the numbers of what was found and how: they come to the same."""


def judge_file(reports: BlockReports, known: KnownFleet) -> JudgedReports:
    """In the order of the reports. Without a policy in force they are kept and not judged."""
    cases: dict[_Case, int] = {}
    times: dict[_Case, datetime] = {}
    laws: dict[int, _Law | None] = {}
    models = [known.models[tag] for tag in reports.devices]
    which = array("I")
    for device, at, found, how in zip(
        reports.device, reports.at, reports.found, reports.how, strict=True
    ):
        if at not in laws:
            _keep_law(laws, at, known)
        case = laws[at], models[device], found, how
        number = cases.get(case)
        if number is None:
            number = cases[case] = len(cases)
            times[case] = moment_of(at)
        which.append(number)
    verdicts = _verdicts(reports, times, known)
    return JudgedReports(reports, [_ruling(reports, case, verdicts) for case in cases], which)


_MOST_LAWS = 10_000


def _keep_law(laws: dict[int, _Law | None], at: int, known: KnownFleet) -> None:
    if len(laws) >= _MOST_LAWS:
        laws.clear()
    laws[at] = _law(moment_of(at), known)


def _ruling(reports: BlockReports, case: _Case, verdicts: Mapping[_Key, SetVerdict]) -> Ruling:
    law, model, found, number = case
    if law is None:
        return None, None, Judgement()
    verdict, how = verdicts[law, model, reports.sets[found]], reports.hows[number]
    return law[0], verdict, verdict.judgement(how.state_read, how.told.minutes_off)


def _law(at: datetime, known: KnownFleet) -> _Law | None:
    line, version = known.line_at(at), in_force_among(known.versions, at)
    if line is None:
        return None
    return line.number, None if version is None else version.number


def _verdicts(
    reports: BlockReports, times: Mapping[_Case, datetime], known: KnownFleet
) -> dict[_Key, SetVerdict]:
    first: dict[_Key, datetime] = {}
    for (law, model, found, _), at in times.items():
        if law is not None:
            first.setdefault((law, model, reports.sets[found]), at)
    alike: dict[_Alike, list[_Key]] = defaultdict(list)
    for key in first:
        law, model, what = key
        alike[law, model, what.columns].append(key)
    verdicts: dict[_Key, SetVerdict] = {}
    for some in alike.values():
        _judge_alike(some, first[some[0]], known, verdicts)
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
