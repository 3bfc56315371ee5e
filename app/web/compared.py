"""A report for people: what it means first, then signed beside found. Only after it is locked."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.audit import DeviceDeviation
from app.domain.comparison import DEEP, Direction, base_alarm, direction_of
from app.domain.device_reports import (
    CouldNotRead,
    FoundOn,
    FoundText,
    NotRead,
    Reading,
    StateRead,
)
from app.domain.displaced_line import DisplacedLine, displaced_line
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.option_judgement import preset_words
from app.domain.options import OPTIONS
from app.domain.profiles import Option
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import On, convert, show_number
from app.domain.waivers import Waiver
from app.domain.written_limits import shown_unit
from app.exchange.deviation_words import (
    consequence,
    found_value,
    limit_is_looser,
    signed_value,
)
from app.exchange.option_words import option_words
from app.lookups.judged import Line, ReportPage


@dataclass(frozen=True)
class ComparedLine:
    """`direction` and `severity` None: it conforms, was not read, or no policy judges it."""

    alarm: str
    label: str
    signed: str
    found: str
    verdict: str
    direction: Direction | None = None
    severity: Severity | None = None
    sentence: str = ""
    hint: str | None = None
    picture: DisplacedLine | None = None
    waived: tuple[Waiver, ...] = ()  # of the signed limit


@dataclass(frozen=True)
class ComparedReport:
    """`pause`: what to know of the pause before it was switched on; empty: nothing.

    `waits`: somebody is to look again, so only what is unsafe is told.
    """

    report: StoredReport
    ages: str
    lines: tuple[ComparedLine, ...]
    pause: str
    counts: bool
    waits: bool = False

    @property
    def deviating(self) -> list[ComparedLine]:
        told = [line for line in self.lines if line.severity is not None]
        return sorted(told, key=lambda line: line.severity.weight if line.severity else 0)

    @property
    def conforming(self) -> int:
        return sum(line.verdict == "holds" for line in self.lines)

    @property
    def where(self) -> str:
        """The beginning of every sentence: Boat 3, power-on, CHILD (1 y to 5 y)."""
        return ", ".join([self.report.device, self.report.state_read, self.preset])

    @property
    def preset(self) -> str:
        name = preset_words(self.report.preset)
        return f"{name} ({self.ages})" if self.ages else name

    def line(self, alarm: str) -> ComparedLine:
        return next(line for line in self.lines if line.alarm == alarm)


def compared(page: ReportPage) -> ComparedReport:
    ages = "" if page.rendered is None else str(page.rendered.ages)
    by_alarm = {line.alarm: line for line in page.lines}
    lines = tuple(_compared(page, by_alarm[alarm]) for alarm in in_order(by_alarm))
    return ComparedReport(page.report, ages, lines, page.pause, page.counts, page.waits)


def label_of(alarm: str) -> str:
    """Of an option, too."""
    if alarm in OPTIONS:
        return OPTIONS[alarm].label
    label = ALARM_CONDITIONS[base_alarm(alarm)].label
    return f"{label}, deep line" if alarm.endswith(DEEP) else label


def in_order(alarms: Iterable[str]) -> list[str]:
    """Vital sign by vital sign, low before high, then options; a document has them by the
    alphabet."""
    order = {key: place for place, key in enumerate((*ALARM_CONDITIONS, *OPTIONS))}
    return sorted(alarms, key=lambda alarm: (order[base_alarm(alarm)], alarm))


def _compared(page: ReportPage, line: Line) -> ComparedLine:
    signed, found = side_by_side(page.rendered, line)
    told = ComparedLine(
        alarm=line.alarm,
        label=label_of(line.alarm),
        signed=signed,
        found=found,
        verdict=_verdict(page, line),
        waived=page.waived(line.alarm),
    )
    return told if line.deviation is None else _with_consequence(page, line, told)


def side_by_side(rendered: RenderedPreset | None, line: Line) -> tuple[str, str]:
    """What was signed and what was found, in words."""
    if line.alarm in OPTIONS:
        return option_words(line.alarm, line.signed), option_words(line.alarm, line.found)
    condition = ALARM_CONDITIONS[base_alarm(line.alarm)]
    return _signed_words(rendered, line, condition), _found_words(rendered, line.found, condition)


def _with_consequence(page: ReportPage, line: Line, told: ComparedLine) -> ComparedLine:
    found = _deviation(page, line)
    return replace(
        told,
        direction=found.deviation.direction,
        severity=found.deviation.severity,
        sentence=consequence(found),
        hint=line.hint,
        picture=_picture(found),
    )


def _deviation(page: ReportPage, line: Line) -> DeviceDeviation:
    if line.deviation is None:
        raise ValueError("only a line that deviates has a consequence")
    report = page.report
    return DeviceDeviation(
        report.device,
        report.preset,
        line.deviation,
        report.read_at,
        report.state_read,
        page.rendered,
        line.hint,
    )


def _verdict(page: ReportPage, line: Line) -> str:
    if line.deviation is not None:
        return line.deviation.direction.words
    if isinstance(line.found, NotRead):
        return "not read"
    if line.signed is None:
        return "not judged"
    if page.rendered is None:
        return "holds" if line.alarm in OPTIONS else "not judged"
    in_use = page.report.state_read is StateRead.IN_USE
    as_signed = not in_use or direction_of(page.rendered, line.alarm, line.found) is None
    return "holds" if as_signed else "tailored"


def _signed_words(rendered: RenderedPreset | None, line: Line, condition: AlarmCondition) -> str:
    if rendered is None or line.signed is None or isinstance(line.signed, Option):
        return "no policy"
    if not isinstance(line.signed, On):
        return line.signed.state.replace("-", " ")
    if line.alarm.endswith(DEEP) and line.signed.deep is None:
        return "off"
    unit = line.found.unit if isinstance(line.found, FoundOn) else None
    of_line = rendered.deep_values if line.alarm.endswith(DEEP) else rendered.values
    limits = of_line(condition.key, unit)
    if not limits:
        return "on"
    near = line.found.limit if isinstance(line.found, FoundOn) else None
    nearest = min(limits, key=lambda value: abs(value - (min(limits) if near is None else near)))
    return _amount(nearest, _shown(rendered, unit, condition))


def _found_words(rendered: RenderedPreset | None, found: Reading, condition: AlarmCondition) -> str:
    if isinstance(found, CouldNotRead):
        return f"could not read: {found.why}"
    if isinstance(found, FoundText):
        return found.text
    if not isinstance(found, FoundOn):
        return found.state.replace("-", " ")
    shown = _shown(rendered, found.unit, condition)
    parts = ["on" if found.limit is None else _amount(found.limit, shown)]
    if found.priority is not None:
        parts.append(f"{found.priority} priority")
    if found.delay_s is not None:
        parts.append(f"delay {show_number(found.delay_s)} s")
    if found.latching is not None:
        parts.append("latching" if found.latching else "not latching")
    return ", ".join(parts)


def _shown(rendered: RenderedPreset | None, unit: str | None, condition: AlarmCondition) -> str:
    held = unit or (rendered.unit_of(condition) if rendered else condition.unit) or ""
    return shown_unit(held)


def _amount(value: Decimal, shown: str) -> str:
    return f"{show_number(value)} {shown}".strip()


def _picture(found: DeviceDeviation) -> DisplacedLine | None:
    """Only where a limit stands elsewhere; a delay or a priority has no place on the scale."""
    direction, reading = found.deviation.direction, found.deviation.found
    signed, read = signed_value(found), found_value(found)
    if direction not in (Direction.LOOSER, Direction.TIGHTER):
        return None
    if isinstance(signed, str | None) or isinstance(read, str):
        return None
    condition = ALARM_CONDITIONS[base_alarm(found.deviation.alarm)]
    unit = reading.unit if isinstance(reading, FoundOn) else None
    return displaced_line(
        Decimal(str(signed)),
        Decimal(str(read)),
        looser=limit_is_looser(condition, signed, read),
        reach=_reach(condition, unit),
    )


def _reach(condition: AlarmCondition, unit: str | None) -> Decimal:
    if unit is None or condition.unit is None:
        return condition.most - condition.least
    ends = [convert(end, condition.unit, unit) for end in (condition.least, condition.most)]
    return ends[1] - ends[0]
