"""What a device should have held at a time, and what was last read on it before."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from sqlmodel import Session

from app.domain.comparison import Direction, base_alarm, direction_of
from app.domain.device_reports import NotRead, Reading
from app.domain.devices import Device
from app.domain.option_comparison import compare_option
from app.domain.option_judgement import ANY_PRESET
from app.domain.profiles import Option
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.revisions import StoredRevision
from app.domain.settings_of_alarms import Setting
from app.domain.waivers import Waiver, waived_among
from app.exchange.stored_profiles import stored_profile
from app.lookups.judged import Line, ReportPage, report_pages
from app.storage import devices, past_reports, revisions
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class PastPreset:
    """`signed` None: the revision of that time had no such preset; `options` are what it asked of
    the device as a whole.

    `read`: the last before then, in whichever state it was; `lines` hold it beside what was signed
    then, which may be a later revision than the one that judged it. While somebody is to look
    again without knowing, only what is unsafe is told.
    """

    preset: str
    signed: RenderedPreset | None
    read: ReportPage | None
    waivers: tuple[Waiver, ...]
    options: Mapping[str, Option] = field(default_factory=dict)

    @property
    def asked(self) -> bool:
        """By the revision of that time."""
        return self.signed is not None or bool(self.options)

    def waived(self, alarm: str) -> tuple[Waiver, ...]:
        """Of what it should have held."""
        held = self.signed
        categories = () if held is None else (held.carries, *held.serves)
        return waived_among(self.waivers, categories, base_alarm(alarm))

    @property
    def lines(self) -> list[Line]:
        signed: Mapping[str, Setting | Option] = self.options
        if self.signed is not None:
            signed = self.signed.settings
        return [
            Line(alarm, signed.get(base_alarm(alarm)), self._found.get(alarm, NotRead()))
            for alarm in dict.fromkeys([*signed, *self._found])
        ]

    def direction(self, line: Line) -> Direction | None:
        """Which way it was off what it should have held; None: it held, or nothing tells."""
        if self.signed is not None:
            return direction_of(self.signed, line.alarm, line.found)
        option = self.options.get(line.alarm)
        off = compare_option(line.alarm, option, line.found)
        return None if off is None else off.direction

    @property
    def _found(self) -> Mapping[str, Reading]:
        if self.read is None:
            return {}
        if self.read.waits:
            return {line.alarm: line.found for line in self.read.lines}
        return self.read.report.readings


@dataclass(frozen=True)
class PastPage:
    device: Device
    at: datetime
    revision: StoredRevision | None
    presets: tuple[PastPreset, ...]


def past(tx: Session, *, agency_id: int, tag: str, at: datetime) -> PastPage:
    device = devices.device_tagged(tx, agency_id=agency_id, tag=tag)
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=at)
    profile = None if revision is None else stored_profile(revision.document)
    signed = {} if profile is None else rendered_presets(profile, device.model)
    options = {} if profile is None else profile.options
    waivers = () if revision is None else waivers_of(tx, revision.id)
    last = past_reports.latest_before(tx, device, at)
    read = {
        page.report.preset: page
        for page in report_pages(tx, agency_id=agency_id, reports=last.values())
    }
    return PastPage(
        device,
        at,
        revision,
        tuple(
            PastPreset(
                preset,
                signed.get(preset),
                read.get(preset),
                waivers,
                options if preset == ANY_PRESET else {},
            )
            for preset in dict.fromkeys([*signed, *([ANY_PRESET] if options else []), *read])
        ),
    )
