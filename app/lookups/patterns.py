"""What goes with the deviations that devices have now."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session

from app.domain.device_reports import FoundOn, FoundText, Reading
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import StoredReport, was_read
from app.domain.patterns import Case, Pattern, patterns
from app.domain.settings_of_alarms import show_number
from app.domain.written_limits import shown_unit
from app.storage import devices, devices_now, reports
from app.storage.base import batches


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
    cases = [_case(register[tag], found) for tag, found in sorted(by_device.items())]
    deviating = sum(bool(case.found) for case in cases)
    return PatternsPage(tuple(patterns(cases)), len(cases), deviating, len(register))


def _case(device: Device, told: Sequence[StoredReport]) -> Case:
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
        {way for report in told for way in _ways(report)},
    )


def _one(values: Iterable[str]) -> str:
    found = set(values)
    return found.pop() if len(found) == 1 else ""


def _ways(report: StoredReport) -> Iterable[tuple[str, str]]:
    for alarm, (_, severity) in report.verdicts.items():
        if severity is not Severity.NOTE and alarm in report.readings:
            yield alarm, answer_words(report.readings[alarm])


def answer_words(found: Reading) -> str:
    """As it stood on the screen, whatever unit that was in."""
    if isinstance(found, FoundText):
        return found.text
    if not isinstance(found, FoundOn):
        return found.state.replace("-", " ")
    unit = "" if found.unit is None else f" {shown_unit(found.unit)}"
    parts = ["on" if found.limit is None else f"at {show_number(found.limit)}{unit}"]
    if found.priority is not None:
        parts.append(f"{found.priority} priority")
    if found.delay_s is not None:
        parts.append(f"delay {show_number(found.delay_s)} s")
    if found.latching is not None:
        parts.append("latching" if found.latching else "not latching")
    return ", ".join(parts)
