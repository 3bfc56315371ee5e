"""Shift checks as tests make them."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import count
from typing import Any

from sqlmodel import Session

from app.actions.shift_checks import take_check
from app.domain.agency_choices import AT_SHIFT
from app.domain.device_reports import Reading, StateRead
from app.domain.people import Person, Role
from app.domain.phone_clocks import PhoneClock
from app.domain.shift_checks import NewShiftCheck, Queued, ShiftCheck
from app.domain.shift_questions import QUESTIONS, Answer, Answers
from tests.builders import NOW, PRESET, a_person, as_signed

GOOD = dict.fromkeys(QUESTIONS, Answer.YES)
_keys = count(1)


class InOrder:
    def sample(self, population: Sequence[str], k: int) -> list[str]:
        return list(population)[:k]


def at_shift(**instead: Any) -> dict[str, Reading]:
    """What conforms of the alarms that are asked; `heart_rate_high=…` replaces one."""
    signed = as_signed(**instead)
    return {alarm: signed[alarm] for alarm in AT_SHIFT}


def a_new_check(
    readings: Mapping[str, Reading] | None = None,
    answers: Answers | None = None,
    **instead: Any,
) -> NewShiftCheck:
    wanted: dict[str, Any] = {
        "device": "boat-3",
        "key": f"check {next(_keys)}",
        "preset": PRESET,
        "state_read": StateRead.POWER_ON,
        "readings": at_shift() if readings is None else readings,
        "answers": {**GOOD, **(answers or {})},
        "minutes_off": 5,
    }
    return NewShiftCheck(**(wanted | instead))


def queued(locked: datetime, sent: datetime, *, number: int = 1, phone: str = "one") -> Queued:
    """By the phone's clock, both."""
    return Queued(phone, number, PhoneClock(locked, sent))


def a_check(
    tx: Session,
    new: NewShiftCheck | None = None,
    *,
    by: Person | None = None,
    now: datetime = NOW,
    **instead: Any,
) -> ShiftCheck:
    return take_check(
        tx,
        new=new or a_new_check(**instead),
        dice=InOrder(),
        by=by or a_person(tx, Role.CREW),
        now=now,
    )
