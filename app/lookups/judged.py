"""Reports beside what was signed; the signed side comes out of the revision that judged them."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from sqlmodel import Session

from app.domain.bounds_versions import judge_named
from app.domain.comparison import Deviation, base_alarm, is_stated
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import NotRead, Reading
from app.domain.fleet import StoredReport
from app.domain.hints import hints
from app.domain.power_pauses import counts, pause_words
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import Setting
from app.exchange.stored_profiles import stored_profile
from app.storage.outer_bounds import bounds_versions
from app.storage.revisions import documents_of

Presets = Mapping[str, RenderedPreset]


@dataclass(frozen=True)
class Line:
    """One alarm: signed beside found. `deviation` None: it conforms, or no policy judges it."""

    alarm: str
    signed: Setting | None
    found: Reading
    deviation: Deviation | None = None
    hint: str | None = None


@dataclass(frozen=True)
class ReportPage:
    """`rendered` None: nothing was in force, so there is nothing to hold it against.

    `bounds` names the outer bounds that judged it.
    """

    report: StoredReport
    rendered: RenderedPreset | None
    lines: tuple[Line, ...]
    bounds: str = DEFAULT_BOUNDS.name

    @property
    def pause(self) -> str:
        """What to know of the pause before the device was switched on; empty: nothing."""
        retention = None if self.rendered is None else self.rendered.retention_min
        return pause_words(self.report.state_read, self.report.minutes_off, retention)

    @property
    def counts(self) -> bool:
        retention = None if self.rendered is None else self.rendered.retention_min
        return counts(self.report.state_read, self.report.minutes_off, retention)

    def line(self, alarm: str) -> Line:
        return next(line for line in self.lines if line.alarm == alarm)


def report_pages(
    tx: Session, *, agency_id: int, reports: Collection[StoredReport]
) -> list[ReportPage]:
    """Two statements, however many reports."""
    numbers = {report.revision for report in reports if report.revision is not None}
    documents = documents_of(tx, agency_id=agency_id, numbers=numbers)
    versions = bounds_versions(tx, agency_id)
    return [
        replace(
            _page(report, _presets(documents.get(report.revision or 0), report)),
            bounds=judge_named(versions, report.read_at),
        )
        for report in reports
    ]


def _presets(document: str | None, report: StoredReport) -> Presets:
    return {} if document is None else rendered_presets(stored_profile(document), report.model)


def _page(report: StoredReport, presets: Presets) -> ReportPage:
    rendered = presets.get(report.preset)
    signed = {} if rendered is None else rendered.settings
    deviations = {
        alarm: Deviation(
            alarm, signed.get(base_alarm(alarm)), report.readings[alarm], direction, severity
        )
        for alarm, (direction, severity) in report.verdicts.items()
    }
    told = {} if rendered is None else hints(rendered, deviations.values(), presets)
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
