"""Twelve invented devices at four invented stations, and what was read on them, when, by whom."""

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from app.actions.devices import add_device
from app.actions.reports import record_report
from app.demo.people import Staff
from app.demo.policy import FIRST_BEGAN, SECOND_BEGAN, Event
from app.demo.profile import document
from app.domain.comparison import is_stated
from app.domain.device_reports import FoundOff, FoundOn, Reading, StateRead
from app.domain.new_reports import NewReport
from app.domain.people import Role
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import On
from app.exchange.profile_json import profile_from_document

SEED = 20_110_315
_SOFTWARE = {"dunlin": "4.1", "turnstone": "2.0.7", "petrel": "11"}

Found = Mapping[str, Reading]


@dataclass(frozen=True)
class Story:
    """`read`: days before the first day of the demo. `found` differs from what is signed for
    `category` at the last reading; `as_if`: that preset holds the values of another category."""

    tag: str
    model: str
    station: str
    read: tuple[int, ...]
    category: str = ""
    found: Found = field(default_factory=dict)
    as_if: str = ""


def _limit(value: int) -> FoundOn:
    return FoundOn(Decimal(value))


STORIES = (
    Story("road-1", "dunlin", "Hollavoe", (88, 41, 9)),
    Story("road-2", "dunlin", "Hollavoe", (85, 34), "adult", {"spo2-low": FoundOff()}),
    Story("road-3", "dunlin", "Hollavoe", (84, 55)),
    Story("road-4", "turnstone", "Skarra", (81, 27), "young-child", as_if="child"),
    Story("road-5", "turnstone", "Skarra", (79, 62, 20)),
    Story("road-6", "turnstone", "Skarra", (103,)),
    Story("boat-1", "dunlin", "Brenna Harbour", (90, 48), "adult", {
        "heart-rate-high": _limit(120), "pulse-rate-high": _limit(120),
    }),
    Story("boat-2", "dunlin", "Brenna Harbour", (90, 47)),
    Story("boat-3", "dunlin", "Brenna Harbour", (89, 12), "young-child", {
        "heart-rate-high": _limit(195), "pulse-rate-high": _limit(195),
    }),
    Story("air-1", "petrel", "Tern Field", (76, 30)),
    Story("air-2", "petrel", "Tern Field", (75, 16)),
    Story("spare-1", "petrel", "Tern Field", ()),
)  # fmt: skip
_READERS = (Role.FLEET_MANAGER, Role.TECHNICIAN, Role.CREW)
_DAY, _MINUTE = timedelta(days=1), timedelta(minutes=1)


def fleet_events(tx: Any, staff: Staff) -> Iterator[Event]:
    dice = random.Random(SEED)  # noqa: S311 - the same demo every time, nothing secret
    for story in STORIES:
        yield (FIRST_BEGAN - 1) * _DAY, _arrival(tx, staff, story)
        for days_ago in story.read:
            yield from _round(tx, staff, story, days_ago, dice)


def _arrival(tx: Any, staff: Staff, story: Story) -> Any:
    femi = staff[Role.FLEET_MANAGER]
    return lambda now: add_device(
        tx, tag=story.tag, model=story.model, station=story.station, by=femi, now=now
    )


def _round(
    tx: Any, staff: Staff, story: Story, days_ago: int, dice: random.Random
) -> Iterator[Event]:
    """One person reads every preset of one device, a few minutes each."""
    reader, before = (
        staff[dice.choice(_READERS)],
        days_ago * _DAY - dice.randrange(7, 19) * 60 * _MINUTE,
    )
    last = days_ago == min(story.read)
    presets = _presets(story.model, days_ago)
    for rendered in presets.values():
        readings = as_signed(rendered)
        if last and rendered.carries == story.category:
            readings = as_signed(_carrying(presets, story.as_if or story.category))
            readings |= story.found
        report = {
            "device": story.tag,
            "preset": rendered.preset,
            "state_read": _state(rendered),
            "readings": readings,
            "idempotency_key": f"demo {story.tag} {days_ago} {rendered.preset}",
            "software": _SOFTWARE[story.model],
            "trigger": "check round",
            "minutes_off": 10,
        }
        yield before, _reading(tx, report, reader)
        before -= dice.randrange(3, 7) * _MINUTE


def _reading(tx: Any, report: dict[str, Any], reader: Any) -> Any:
    def record(now: datetime) -> None:
        record_report(tx, report=NewReport(**report, read_at=now), by=reader, now=now)

    return record


def _presets(model: str, days_ago: int) -> Mapping[str, RenderedPreset]:
    """As they were to be set on that day."""
    revision = 1 if days_ago > SECOND_BEGAN else 2
    return rendered_presets(profile_from_document(document(revision)), model)


def _carrying(presets: Mapping[str, RenderedPreset], category: str) -> RenderedPreset:
    return next(preset for preset in presets.values() if preset.carries == category)


def _state(rendered: RenderedPreset) -> StateRead:
    """Every model starts up as for an adult; the other presets show after choosing them."""
    return StateRead.POWER_ON if rendered.carries == "adult" else StateRead.AFTER_CATEGORY


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
    in_kpa = alarm.startswith(("etco2", "inspired-co2")) and rendered.model is not None
    unit = rendered.model.etco2_unit if in_kpa and rendered.model else None
    return FoundOn(min(values), unit) if values else FoundOn()
