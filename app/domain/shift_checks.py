"""The short check of a device at the beginning of a shift: the critical few, read blind.

It can find something amiss. It never clears a device: for that all of it is read.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from app.domain.device_reports import CouldNotRead, FoundNotFitted, Reading, StateRead
from app.domain.errors import Fault, Refused
from app.domain.fleet import was_read
from app.domain.options import START_UP
from app.domain.phone_clocks import PhoneClock
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset
from app.domain.shift_questions import START_UP_FAULT, Answer, Answers

STATES = (StateRead.POWER_ON, StateRead.IN_USE)
SEEN_FOR = timedelta(hours=1)
"""So long whoever opened the values of a device is no blind reader of it (a judgement)."""


def seen_before(opened_at: datetime | None, looked_at: datetime) -> bool:
    """Both by one clock. One that went back in between tells nothing, so they count as seen."""
    return opened_at is not None and looked_at - opened_at <= SEEN_FOR


@dataclass(frozen=True)
class Queued:
    """Where it waited: the `number` of the check on one `phone`, counted from 1, and its clock."""

    phone: str
    number: int
    clock: PhoneClock


@dataclass(frozen=True)
class NewShiftCheck:
    """`key` is made when it is locked: the same key is the same check, however often it is sent.

    `preset`: what the device showed. `reader`: whoever was signed in when it was locked, empty if
    that is not known. `queued` None: it came by the form itself and is of this moment. `seen`: the
    device's values had been opened on that phone.
    """

    device: str
    key: str
    preset: str
    state_read: StateRead
    readings: Mapping[str, Reading]
    answers: Answers
    minutes_off: int | None = None
    remark: str = ""
    reader: str = ""
    queued: Queued | None = None
    seen: bool = False


def check_new(new: NewShiftCheck) -> None:
    faults = [*_faults(new)]
    if faults:
        raise Refused(faults)


def _faults(new: NewShiftCheck) -> Iterator[Fault]:
    if new.state_read not in STATES:
        yield Fault("say how it was when you looked", column="state_read")
    if new.minutes_off is not None and new.minutes_off < 0:
        yield Fault("this cannot be negative", column="minutes_off")
    for question, answer in new.answers.items():
        if answer not in question.answers:
            yield Fault("choose one of the answers", column=question.value)
    if new.queued is not None and new.queued.number < 1:
        yield Fault("checks of a phone are counted from 1", column="number")
    if not any(was_read(reading) for reading in new.readings.values()) and not new.answers:
        yield Fault("nothing was read", column="readings")


@dataclass(frozen=True)
class CrewFound:
    """One thing besides limits; `grave`: it keeps the device from the next patient."""

    what: str
    words: str
    grave: bool


def found_by_crew(
    new: NewShiftCheck, profile: Profile | None, presets: Mapping[str, RenderedPreset]
) -> tuple[CrewFound, ...]:
    """What somebody must act on, the gravest first."""
    told = [
        CrewFound(question.value, question.fault, question.grave)
        for question, answer in new.answers.items()
        if answer is Answer.NO
    ]
    told += _wrong_start(new, profile, presets)
    return tuple(sorted(told, key=lambda one: not one.grave))


def _wrong_start(
    new: NewShiftCheck, profile: Profile | None, presets: Mapping[str, RenderedPreset]
) -> Iterator[CrewFound]:
    option = None if profile is None else profile.options.get(START_UP)
    shown = presets.get(new.preset)
    if option is None or shown is None or new.state_read is not StateRead.POWER_ON:
        return
    signed = str(option.value)
    if signed not in (shown.carries, shown.preset):
        words = START_UP_FAULT.format(shown=new.preset, signed=signed)
        yield CrewFound(START_UP, words, grave=True)


def unread(readings: Iterable[Reading], answers: Answers) -> int:
    """How much could not be told; what is not fitted is told."""
    return sum(isinstance(one, CouldNotRead) for one in readings) + sum(
        one is Answer.COULD_NOT_TELL for one in answers.values()
    )


def not_fitted(readings: Iterable[Reading], answers: Answers) -> int:
    return sum(isinstance(one, FoundNotFitted) for one in readings) + sum(
        one is Answer.NOT_FITTED for one in answers.values()
    )


@dataclass(frozen=True)
class Weighed:
    """What the server made of one: the number of its reading, when the device was looked at."""

    reading: int
    read_at: datetime
    found: tuple[CrewFound, ...]
    fingerprint: str


@dataclass(frozen=True)
class PutRight:
    """`by_id` is never whoever found it."""

    by_id: int
    by: str
    at: datetime
    note: str


@dataclass(frozen=True)
class ShiftCheck:
    """`reading` is the number of the reading that its values are the first look of.

    `read_at`: by the server's clock; `queued` keeps what the phone's clock said.
    """

    id: int
    device: str
    reading: int
    key: str
    fingerprint: str
    preset: str
    state_read: StateRead
    person_id: int
    person: str
    read_at: datetime
    received_at: datetime
    answers: Answers
    found: tuple[CrewFound, ...]
    remark: str
    unread: int
    not_fitted: int
    queued: Queued | None
    put_right: PutRight | None
    seen: bool = False

    @property
    def grave(self) -> bool:
        """Also once it was put right."""
        return any(one.grave for one in self.found)

    @property
    def waits(self) -> bool:
        """Somebody must act on what was found."""
        return bool(self.found) and self.put_right is None


class Result(StrEnum):
    """What a crew is told once it is taken, the gravest that is so."""

    UNSAFE = "unsafe"
    LOOK_AGAIN = "look-again"
    DIFFERS = "differs"
    AMISS = "amiss"
    IN_USE = "in-use"
    SEEN = "seen"
    PARTLY = "partly"
    HOLDS = "holds"
