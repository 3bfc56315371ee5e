"""What goes with the deviations that devices have now."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from sqlmodel import Session

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import base_alarm
from app.domain.device_reports import FoundOn, FoundText, Reading
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import StoredReport, was_read
from app.domain.options import OPTIONS
from app.domain.patterns import Case, Pattern, patterns
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import show_number
from app.domain.written_limits import shown_unit
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, devices_now, reports
from app.storage.base import batches
from app.storage.revisions import documents_of

Presets = Mapping[str, RenderedPreset]
PresetsOf = Callable[[int | None, str], Presets]
"""By the revision that judged, and the model."""


@dataclass(frozen=True)
class PatternsPage:
    """`judged` of the `fleet` were read at all; `deviating` of those deviate."""

    found: tuple[Pattern, ...]
    judged: int
    deviating: int
    fleet: int


def patterns_now(tx: Session, *, agency_id: int) -> PatternsPage:
    """Of the reports that tell what each device holds now; notes are left out."""
    register = {one.tag: one for one in devices.devices_of(tx, agency_id)}
    by_device: dict[str, list[StoredReport]] = defaultdict(list)
    for some in batches(devices_now.telling_reports(tx, agency_id)):
        for report in reports.reports_by_id(tx, some).values():
            by_device[report.device].append(report)
    numbers = {one.revision for told in by_device.values() for one in told if one.revision}
    documents = documents_of(tx, agency_id=agency_id, numbers=numbers)

    @cache
    def presets_of(number: int | None, model: str) -> Presets:
        document = documents.get(number or 0)
        return {} if document is None else rendered_presets(stored_profile(document), model)

    cases = [_case(register[tag], found, presets_of) for tag, found in sorted(by_device.items())]
    deviating = sum(bool(case.found) for case in cases)
    return PatternsPage(tuple(patterns(cases)), len(cases), deviating, len(register))


def _case(device: Device, told: Sequence[StoredReport], presets_of: PresetsOf) -> Case:
    """What differs from preset to preset is left open: it says nothing of the device."""
    return Case(
        device.tag,
        {
            "model": device.model,
            "station": device.station,
            "software": _one(report.software for report in told),
            "reader": _one(report.reader_told or report.reader for report in told),
            "trigger": _one(report.trigger for report in told),
            "day read": _one(report.read_at.date().isoformat() for report in told),
        },
        {alarm for report in told for alarm, found in report.readings.items() if was_read(found)},
        {
            way
            for report in told
            for way in _ways(report, presets_of(report.revision, report.model))
        },
    )


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
