"""Reports beside what was signed; the signed side comes out of the revision that judged them."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlmodel import Session

from app.domain.bounds_versions import judge_named
from app.domain.changeover import LOOKED_BACK, InForce
from app.domain.comparison import Deviation, base_alarm, is_stated
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import NotRead, Reading
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.hints import hints
from app.domain.option_judgement import ANY_PRESET, option_deviations
from app.domain.power_pauses import counts, pause_words
from app.domain.profiles import Option, Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.revisions import earlier_numbers
from app.domain.settings_of_alarms import Setting
from app.domain.waivers import Waiver, waived_among
from app.exchange.stored_profiles import stored_profile
from app.storage.outer_bounds import bounds_versions
from app.storage.revisions import documents_of, lines_of
from app.storage.settled_readings import waiting_reports
from app.storage.waivers import waivers_of_numbers

Presets = Mapping[str, RenderedPreset]


@dataclass(frozen=True)
class Line:
    """One alarm: signed beside found. `deviation` None: it conforms, or no policy judges it."""

    alarm: str
    signed: Setting | Option | None
    found: Reading
    deviation: Deviation | None = None
    hint: str | None = None


@dataclass(frozen=True)
class ReportPage:
    """`rendered` None: nothing was in force, so there is nothing to hold it against.

    `bounds` names the outer bounds that judged it, `waivers` are of the revision that did.
    `waits`: somebody is to look again without knowing what was found, so only what is unsafe is
    told.
    """

    report: StoredReport
    rendered: RenderedPreset | None
    lines: tuple[Line, ...]
    bounds: str = DEFAULT_BOUNDS.name
    waits: bool = False
    retention_min: Decimal | None = None
    waivers: tuple[Waiver, ...] = ()

    @property
    def pause(self) -> str:
        """What to know of the pause before the device was switched on; empty: nothing."""
        return pause_words(self.report.state_read, self.report.minutes_off, self._retention)

    @property
    def _retention(self) -> Decimal | None:
        """Of options it is told beside them."""
        return self.retention_min if self.rendered is None else self.rendered.retention_min

    @property
    def counts(self) -> bool:
        return counts(self.report.state_read, self.report.minutes_off, self._retention)

    def line(self, alarm: str) -> Line:
        return next(line for line in self.lines if line.alarm == alarm)

    def waived(self, alarm: str) -> tuple[Waiver, ...]:
        """What its director waived about the signed limit, also what has ended."""
        held = self.rendered
        categories = () if held is None else (held.carries, *held.serves)
        return waived_among(self.waivers, categories, base_alarm(alarm))


def report_pages(
    tx: Session, *, agency_id: int, reports: Collection[StoredReport]
) -> list[ReportPage]:
    """Five statements, however many reports."""
    numbers = {report.revision for report in reports if report.revision is not None}
    lines = lines_of(tx, agency_id)
    older = {number: earlier_numbers(lines, number, most=LOOKED_BACK) for number in numbers}
    wanted = numbers.union(*older.values())
    documents = documents_of(tx, agency_id=agency_id, numbers=wanted)
    versions = bounds_versions(tx, agency_id)
    waivers = waivers_of_numbers(tx, agency_id, numbers)
    waiting = waiting_reports(tx, [report.id for report in reports])
    pages = [
        replace(
            _judged_page(report, documents, older.get(report.revision or 0, [])),
            bounds=judge_named(versions, report.read_at),
            waivers=waivers.get(report.revision or 0, ()),
        )
        for report in reports
    ]
    return [_untold(page) if page.report.id in waiting else page for page in pages]


def _untold(page: ReportPage) -> ReportPage:
    unsafe = (one for one in page.lines if one.deviation is not None and _is_unsafe(one.deviation))
    return replace(page, lines=tuple(unsafe), waits=True)


def _is_unsafe(deviation: Deviation) -> bool:
    return deviation.severity is Severity.UNSAFE


def _judged_page(
    report: StoredReport, documents: Mapping[int, str], older: Collection[int]
) -> ReportPage:
    document = documents.get(report.revision or 0)
    presets = _presets(document, report.model)
    if report.preset == ANY_PRESET:
        return _of_options(report, None if document is None else stored_profile(document), presets)
    rendered = presets.get(report.preset)
    signed = {} if rendered is None else rendered.settings
    deviations = [
        Deviation(alarm, signed.get(base_alarm(alarm)), report.readings[alarm], direction, severity)
        for alarm, (direction, severity) in report.verdicts.items()
    ]
    before = {number: _presets(documents[number], report.model) for number in older}
    return _page(report, deviations, presets, before)


def _of_options(report: StoredReport, profile: Profile | None, presets: Presets) -> ReportPage:
    signed: Mapping[str, Option] = {} if profile is None else profile.options
    lines = tuple(
        Line(key, signed.get(key), found, _deviation(signed.get(key), report, key))
        for key, found in report.readings.items()
    )
    return ReportPage(report, None, lines, retention_min=_retention(presets))


def _deviation(signed: Option | None, report: StoredReport, key: str) -> Deviation | None:
    verdict = report.verdicts.get(key)
    return None if verdict is None else Deviation(key, signed, report.readings[key], *verdict)


def _retention(presets: Presets) -> Decimal | None:
    return next((preset.retention_min for preset in presets.values()), None)


def page_beside(page: ReportPage, today: InForce, waivers: tuple[Waiver, ...]) -> ReportPage | None:
    """The same report beside the revision in force today and what of it is waived; None: it has
    no such preset."""
    report = page.report
    presets = rendered_presets(today.profile, report.model)
    if report.preset == ANY_PRESET:
        found = option_deviations(today.profile, report.model, report.readings)
        verdicts = {one.alarm: (one.direction, one.severity) for one in found}
        beside = _of_options(replace(report, verdicts=verdicts), today.profile, presets)
        return replace(beside, report=report, bounds=today.bounds.name, waivers=waivers)
    if report.preset not in presets:
        return None
    deviations = today.deviations(presets[report.preset], report.readings)
    older = {
        number: rendered_presets(profile, report.model) for number, profile in today.older.items()
    }
    beside = _page(report, deviations, presets, older)
    return replace(beside, bounds=today.bounds.name, waivers=waivers)


def _presets(document: str | None, model: str) -> Presets:
    return {} if document is None else rendered_presets(stored_profile(document), model)


def _page(
    report: StoredReport,
    found: Collection[Deviation],
    presets: Presets,
    older: Mapping[int, Presets],
) -> ReportPage:
    rendered = presets.get(report.preset)
    signed = {} if rendered is None else rendered.settings
    deviations = {deviation.alarm: deviation for deviation in found}
    before = {
        number: held[report.preset] for number, held in older.items() if report.preset in held
    }
    told = {} if rendered is None else hints(rendered, found, presets, before)
    return ReportPage(
        report,
        rendered,
        tuple(
            Line(
                alarm,
                signed.get(base_alarm(alarm)),
                report.readings.get(alarm, NotRead()),
                deviations.get(alarm),
                told.get(alarm),
            )
            for alarm in _alarms(rendered, report.readings)
        ),
    )


def _alarms(rendered: RenderedPreset | None, found: Mapping[str, Reading]) -> Sequence[str]:
    """What the policy asks for, in its order, then whatever else was read."""
    asked = critical_alarms(rendered) if rendered else []
    return [*asked, *(alarm for alarm in found if alarm not in asked)]


def critical_alarms(rendered: RenderedPreset) -> list[str]:
    return [alarm for alarm, setting in rendered.settings.items() if is_stated(setting)]
