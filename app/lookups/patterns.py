"""What goes with the deviations that devices have now."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from sqlmodel import Session

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import base_alarm
from app.domain.device_reports import FoundOn, FoundText, Reading
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.options import OPTIONS
from app.domain.patterns import Case, Pattern, patterns
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import show_number
from app.domain.written_limits import shown_unit
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, devices_now, reports
from app.storage.deviations import deviating
from app.storage.revisions import documents_of
from app.storage.told_reports import ToldOf, told_of
from app.storage.uncollected import without_collecting

Presets = Mapping[str, RenderedPreset]


@dataclass(frozen=True)
class PatternsPage:
    """`judged` of the `fleet` were read at all; `deviating` of those deviate."""

    found: tuple[Pattern, ...]
    judged: int
    deviating: int
    fleet: int


@without_collecting()
def patterns_now(tx: Session, *, agency_id: int) -> PatternsPage:
    """Of the reports that tell what each device holds now; notes are left out."""
    places = {tag: (station, model) for tag, station, model in devices.places_of(tx, agency_id)}
    telling = devices_now.telling_reports(tx, agency_id)
    by_device: dict[str, list[ToldOf]] = defaultdict(list)
    for told in told_of(tx, telling).values():
        by_device[told.device].append(told)
    ways = _ways_now(tx, agency_id, telling)
    cases = [_case(tag, *places[tag], told, ways[tag]) for tag, told in sorted(by_device.items())]
    fleet = sum(devices.count_by_place(tx, agency_id).values())
    astray = sum(bool(case.found) for case in cases)
    return PatternsPage(tuple(patterns(cases)), len(cases), astray, fleet)


def _ways_now(
    tx: Session, agency_id: int, telling: Collection[int]
) -> Mapping[str, set[tuple[str, str]]]:
    """By device; only what deviates is unpacked."""
    found = reports.reports_by_id(tx, deviating(tx, telling)).values()
    numbers = {one.revision for one in found if one.revision}
    documents = documents_of(tx, agency_id=agency_id, numbers=numbers)

    @cache
    def presets_of(number: int | None, model: str) -> Presets:
        document = documents.get(number or 0)
        return {} if document is None else rendered_presets(stored_profile(document), model)

    ways: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for report in found:
        ways[report.device].update(_ways(report, presets_of(report.revision, report.model)))
    return ways


def _case(
    tag: str, station: str, model: str, told: Sequence[ToldOf], ways: set[tuple[str, str]]
) -> Case:
    """What differs from preset to preset is left open: it says nothing of the device."""
    return Case(
        tag,
        {
            "model": model,
            "station": station,
            "software": _one(report.software for report in told),
            "reader": _one(report.reader for report in told),
            "trigger": _one(report.trigger for report in told),
            "day read": _one(report.read_at.date().isoformat() for report in told),
        },
        _united([report.asked for report in told]),
        ways,
    )


def _united(sets: Sequence[frozenset[str]]) -> frozenset[str]:
    """The very same set where there is no other: a fleet has few different ones."""
    first = sets[0]
    return first if all(one is first for one in sets) else frozenset().union(*sets)


def _one(values: Iterable[str]) -> str:
    found = set(values)
    return found.pop() if len(found) == 1 else ""


def _ways(report: StoredReport, presets: Presets) -> Iterable[tuple[str, str]]:
    for alarm, (_, severity) in report.verdicts.items():
        if severity is not Severity.NOTE and alarm in report.readings:
            unit = _unit(alarm, presets.get(report.preset))
            yield alarm, answer_words(report.readings[alarm], unit)


def _unit(alarm: str, rendered: RenderedPreset | None) -> str | None:
    if alarm in OPTIONS:
        return OPTIONS[alarm].unit
    condition = ALARM_CONDITIONS[base_alarm(alarm)]
    return condition.unit if rendered is None else rendered.unit_of(condition)


def answer_words(found: Reading, unit: str | None = None) -> str:
    """As it stood on the screen; `unit`: what the device shows it in where nobody had to say."""
    if isinstance(found, FoundText):
        return found.text
    if not isinstance(found, FoundOn):
        return found.state.replace("-", " ")
    shown = shown_unit(found.unit or unit or "")
    parts = ["on" if found.limit is None else f"at {show_number(found.limit)} {shown}".rstrip()]
    if found.priority is not None:
        parts.append(f"{found.priority} priority")
    if found.delay_s is not None:
        parts.append(f"delay {show_number(found.delay_s)} s")
    if found.latching is not None:
        parts.append("latching" if found.latching else "not latching")
    return ", ".join(parts)
