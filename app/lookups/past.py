"""What a device should have held at a time, and what was last read on it before."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.comparison import base_alarm
from app.domain.device_reports import NotRead, Reading
from app.domain.devices import Device
from app.domain.option_judgement import ANY_PRESET
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.revisions import StoredRevision
from app.domain.waivers import Waiver, waived_among
from app.exchange.stored_profiles import stored_profile
from app.lookups.judged import Line, ReportPage, report_pages
from app.storage import devices, past_reports, revisions
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class PastPreset:
    """`signed` None: the revision of that time had no such preset.

    `read`: the last before then, in whichever state it was; `lines` hold it beside what was signed
    then, which may be a later revision than the one that judged it. While somebody is to look
    again without knowing, only what is unsafe is told.
    """

    preset: str
    signed: RenderedPreset | None
    read: ReportPage | None
    waivers: tuple[Waiver, ...]

    def waived(self, alarm: str) -> tuple[Waiver, ...]:
        """Of what it should have held."""
        held = self.signed
        categories = () if held is None else (held.carries, *held.serves)
        return waived_among(self.waivers, categories, base_alarm(alarm))

    @property
    def lines(self) -> list[Line]:
        if self.preset == ANY_PRESET:
            return [] if self.read is None else list(self.read.lines)
        signed = {} if self.signed is None else self.signed.settings
        return [
            Line(alarm, signed.get(base_alarm(alarm)), self._found.get(alarm, NotRead()))
            for alarm in dict.fromkeys([*signed, *self._found])
        ]

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
    signed = (
        {}
        if revision is None
        else rendered_presets(stored_profile(revision.document), device.model)
    )
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
            PastPreset(preset, signed.get(preset), read.get(preset), waivers)
            for preset in dict.fromkeys([*signed, *read])
        ),
    )
