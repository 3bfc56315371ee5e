"""Shift checks of the last week: most in time, one that found a wrong clock, one a silent alarm."""

import random
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

from app.actions.shift_checks import put_right, take_check
from app.demo.people import Staff
from app.demo.policy import Event
from app.demo.rounds import START_UP, as_signed, presets_of
from app.demo.stations import DEVICES, Placed
from app.demo.stories import STORIES
from app.domain.agency_choices import AT_SHIFT
from app.domain.device_reports import FoundNotFitted, Reading, StateRead
from app.domain.people import Role
from app.domain.phone_clocks import PhoneClock
from app.domain.rendering import RenderedPreset
from app.domain.shift_checks import NewShiftCheck, Queued
from app.domain.shift_questions import QUESTIONS, Answer, Answers, Question
from app.lookups.shift_checks import checks_page

_REVISION, _SEED = 2, 11
_DAYS, _EVERY = range(7), 3  # before today only every third device, to keep the start quick
_WRONG_CLOCK, _UNHEARD = "road-7", "road-12"
_HOUR, _MINUTE = timedelta(hours=1), timedelta(minutes=1)
_SKIPPED = {("road-1", 2), ("boat-2", 0), ("boat-2", 1)}


def shift_events(tx: Any, staff: Staff) -> Iterator[Event]:
    """In service and without a story of their own, so that nothing else is told of them."""
    plain = [one for one in DEVICES if one.tag not in STORIES and not one.tag.startswith("spare")]
    for place, device in enumerate(plain):
        for day in _DAYS if place % _EVERY == 0 else _DAYS[:1]:
            if (device.tag, day) not in _SKIPPED:
                before = day * 24 * _HOUR + 2 * _HOUR + place * _MINUTE
                yield before, _checks(tx, staff, device, day)
    yield 3 * 24 * _HOUR - 4 * _HOUR, lambda now: _mended(tx, staff, now)


def _checks(tx: Any, staff: Staff, device: Placed, day: int) -> Callable[[datetime], None]:
    return lambda now: _check(tx, staff, device, day, now)


def _check(tx: Any, staff: Staff, device: Placed, day: int, now: datetime) -> None:
    presets = presets_of(device.model, _REVISION).values()
    start = next(one for one in presets if one.carries == START_UP)
    locked = now - 35 * _MINUTE
    new = NewShiftCheck(
        device=device.tag,
        key=f"demo shift {device.tag} {day}",
        preset=start.preset,
        state_read=StateRead.POWER_ON,
        readings=_readings(start),
        answers=_answers(device, day),
        minutes_off=45,
        remark="Shows yesterday" if device.tag == _WRONG_CLOCK and not day else "",
        queued=Queued(f"demo {device.tag}", len(_DAYS) - day, PhoneClock(locked, now)),
    )
    dice = random.Random(_SEED)  # noqa: S311 - the same demo every time, nothing secret
    take_check(tx, new=new, dice=dice, by=staff[Role.CREW], now=now)


def _readings(start: RenderedPreset) -> dict[str, Reading]:
    held = as_signed(start)
    return {alarm: held.get(alarm, FoundNotFitted()) for alarm in AT_SHIFT}


def _answers(device: Placed, day: int) -> Answers:
    amiss = {(_WRONG_CLOCK, 0): Question.CLOCK, (_UNHEARD, 3): Question.VOLUME}
    good = dict.fromkeys(QUESTIONS, Answer.YES)
    wrong = amiss.get((device.tag, day))
    return good if wrong is None else good | {wrong: Answer.NO}


def _mended(tx: Any, staff: Staff, now: datetime) -> None:
    tess = staff[Role.TECHNICIAN]
    found = checks_page(tx, agency_id=tess.agency_id, now=now).waiting
    number = next(one.id for one in found if one.device == _UNHEARD)
    told = "The volume had been turned down; set to 80 % and heard at both seats."
    put_right(tx, number=number, told=told, by=tess, now=now)
