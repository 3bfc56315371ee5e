"""One person reads a device: every preset on a check round, the start-up one on a spot check."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

from app.actions.reports import record_report
from app.demo.options import VALUES
from app.demo.policy import SECOND_BEGAN
from app.demo.profile import document
from app.demo.stations import Placed
from app.demo.stories import Story
from app.domain.comparison import is_stated
from app.domain.device_reports import (
    CouldNotRead,
    FoundOff,
    FoundOn,
    FoundText,
    Reading,
    StateRead,
)
from app.domain.new_reports import NewReport
from app.domain.option_judgement import ANY_PRESET
from app.domain.people import Person
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import On
from app.exchange.profile_json import profile_from_document

SOFTWARE = {"dunlin": "4.1", "turnstone": "2.0.7", "petrel": "11"}
START_UP = "adult"


@dataclass(frozen=True)
class Visit:
    """`days_ago`: before the first day of the demo. `last`: what the story tells is found now."""

    device: Placed
    story: Story
    days_ago: float
    last: bool
    trigger: str

    @property
    def presets(self) -> list[RenderedPreset]:
        wanted = self._only
        return [one for one in self._held.values() if not wanted or one.carries == wanted]

    @property
    def _only(self) -> str:
        """The category whose preset alone is read; empty: all are."""
        if self.trigger == "spot check":
            return START_UP
        return self.story.category if self.story.only or self.trigger == "verification" else ""

    @property
    def _held(self) -> Mapping[str, RenderedPreset]:
        """As they were to be set on that day."""
        return presets_of(self.device.model, 1 if self.days_ago > SECOND_BEGAN else 2)

    def readings(self, rendered: RenderedPreset) -> dict[str, Reading]:
        story, signed = self.story, as_signed(rendered)
        if not self.last:
            return signed
        older = as_signed(presets_of(self.device.model, 1)[rendered.preset])
        if story.old and not story.old_alarm:
            return older
        if rendered.carries != story.category:
            return signed
        if story.as_if:
            signed = as_signed(_carrying(self._held, story.as_if))
        if story.old_alarm:
            signed[story.old_alarm] = older[story.old_alarm]
        return {**signed, **story.found}


def record(tx: Any, visit: Visit, rendered: RenderedPreset, by: Person, now: datetime) -> None:
    minute = timedelta(minutes=1)
    report = NewReport(
        device=visit.device.tag,
        preset=rendered.preset,
        state_read=_state(rendered),
        readings=visit.readings(rendered),
        read_at=now - minute,
        idempotency_key=f"demo {visit.device.tag} {visit.days_ago:g} {rendered.preset}",
        software=(visit.story.software if visit.last else "") or SOFTWARE[visit.device.model],
        trigger=visit.trigger,
        minutes_off=10,
    )
    record_report(tx, report=report, by=by, now=now)


def record_options(tx: Any, visit: Visit, by: Person, now: datetime) -> None:
    """On a check round all of them are looked at as well, and every device has what was signed."""
    report = NewReport(
        device=visit.device.tag,
        preset=ANY_PRESET,
        state_read=StateRead.POWER_ON,
        readings=_options(visit.device.model),
        read_at=now - timedelta(minutes=1),
        idempotency_key=f"demo {visit.device.tag} {visit.days_ago:g} options",
        software=(visit.story.software if visit.last else "") or SOFTWARE[visit.device.model],
        trigger=visit.trigger,
        minutes_off=10,
    )
    record_report(tx, report=report, by=by, now=now)


def _options(model: str) -> dict[str, Reading]:
    found: dict[str, Reading] = {}
    for key, value, _ in VALUES:
        if isinstance(value, bool):
            found[key] = FoundOn() if value else FoundOff()
        else:
            found[key] = FoundText(value) if isinstance(value, str) else FoundOn(Decimal(value))
    if model == "turnstone":
        found["etco2-unit"] = CouldNotRead("it shows kPa only; there is nothing to choose")
    return found


@cache
def presets_of(model: str, revision: int) -> Mapping[str, RenderedPreset]:
    return rendered_presets(profile_from_document(document(revision)), model)


def _carrying(presets: Mapping[str, RenderedPreset], category: str) -> RenderedPreset:
    return next(preset for preset in presets.values() if preset.carries == category)


def _state(rendered: RenderedPreset) -> StateRead:
    """Every model starts up as for an adult; the other presets show after choosing them."""
    return StateRead.POWER_ON if rendered.carries == START_UP else StateRead.AFTER_CATEGORY


def as_signed(rendered: RenderedPreset) -> dict[str, Reading]:
    found: dict[str, Reading] = {}
    for alarm, setting in rendered.settings.items():
        if not is_stated(setting):
            continue
        found[alarm] = _held(rendered, alarm) if isinstance(setting, On) else FoundOff()
        if isinstance(setting, On) and setting.deep is not None:
            found[f"{alarm}.deep"] = FoundOn(min(rendered.deep_values(alarm)))
    return found


def _held(rendered: RenderedPreset, alarm: str) -> FoundOn:
    values = rendered.values(alarm)
    return FoundOn(min(values)) if values else FoundOn()
