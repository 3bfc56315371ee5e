"""Readings of the last weeks in which something was looked at again: slips, and what was so."""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from app.actions.looks import LookTaken, lock_look
from app.actions.readings import start_reading
from app.demo.people import Staff
from app.demo.policy import Event
from app.demo.rounds import SOFTWARE, START_UP, as_signed, presets_of
from app.demo.stations import DEVICES
from app.demo.stories import STORIES, Found
from app.domain.device_reports import FoundOn, StateRead
from app.domain.people import Role
from app.domain.reading_sessions import NewReading, ReadingSession
from app.domain.triggers import Trigger

REVISION = 2
_SEED = 9
_HOUR = timedelta(hours=1)
_READERS = (Role.FLEET_MANAGER, Role.TECHNICIAN, Role.CREW)


@dataclass(frozen=True)
class Doubt:
    """`slip`: what the first look alone has. `looks`: how many were made."""

    device: str
    hours_ago: int
    slip: Found = field(default_factory=dict)
    looks: int = 3
    category: str = START_UP


def _slip(value: float, alarm: str) -> Found:
    return {alarm: FoundOn(Decimal(repr(value)))}


DOUBTS = (
    Doubt("road-3", 19 * 24, _slip(130, "heart-rate-high")),
    Doubt("air-2", 16 * 24 + 5, _slip(94, "spo2-low")),
    Doubt("boat-1", 11 * 24 + 2, looks=2),
    Doubt("road-22", 8 * 24 + 7, _slip(12, "respiratory-rate-low")),
    Doubt("road-14", 6 * 24 + 3, looks=2, category="child"),
    Doubt("boat-6", 1, _slip(130, "heart-rate-high"), looks=1),
)


def look_events(tx: Any, staff: Staff) -> Iterator[Event]:
    for doubt in DOUBTS:
        yield doubt.hours_ago * _HOUR, _happens(tx, staff, doubt)


def _happens(tx: Any, staff: Staff, doubt: Doubt) -> Callable[[datetime], None]:
    return lambda now: _read(tx, staff, doubt, now)


def _read(tx: Any, staff: Staff, doubt: Doubt, now: datetime) -> None:
    """The looks follow one another by a few minutes, each by somebody else."""
    dice = random.Random(_SEED)  # noqa: S311 - the same demo every time, nothing secret
    session = _begin(tx, staff, doubt, now)
    for number in range(1, doubt.looks + 1):
        now += timedelta(minutes=4)
        held = {**_held(doubt), **(doubt.slip if number == 1 else {})}
        asked = session.looks[-1].wanted.asked
        session = lock_look(
            tx,
            reading=session.id,
            taken=LookTaken(number, {alarm: held[alarm] for alarm in asked}, 10),
            dice=dice,
            by=staff[_READERS[number - 1]],
            now=now,
        )


def _begin(tx: Any, staff: Staff, doubt: Doubt, now: datetime) -> ReadingSession:
    power_on = doubt.category == START_UP
    new = NewReading(
        device=doubt.device,
        preset=_preset(doubt),
        state_read=StateRead.POWER_ON if power_on else StateRead.AFTER_CATEGORY,
        trigger=Trigger.MONTHLY,
        software=SOFTWARE[_model(doubt)],
        key=f"demo doubt {doubt.device}",
        minutes_off=10,
    )
    return start_reading(tx, new=new, die=99, by=staff[Role.FLEET_MANAGER], now=now)


def _model(doubt: Doubt) -> str:
    return next(one.model for one in DEVICES if one.tag == doubt.device)


def _preset(doubt: Doubt) -> str:
    presets = presets_of(_model(doubt), REVISION).values()
    return next(one.preset for one in presets if one.carries == doubt.category)


def _held(doubt: Doubt) -> Found:
    """As signed, but for what the device's story tells."""
    story = STORIES.get(doubt.device)
    strayed = story.found if story is not None and story.category == doubt.category else {}
    return {**as_signed(presets_of(_model(doubt), REVISION)[_preset(doubt)]), **strayed}
