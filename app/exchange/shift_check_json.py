"""A shift check as JSON → a check; what is wrong is told by its field."""

from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from app.domain.device_reports import StateRead
from app.domain.errors import Fault, Refused
from app.domain.phone_clocks import PhoneClock
from app.domain.shift_checks import NewShiftCheck, Queued, seen_before
from app.domain.shift_questions import Answer, Question
from app.exchange.report_json import ReadingFile, complaints_of_readings, reading_of

MOST_READ = 20
Line = Annotated[str, Field(max_length=200)]
Filled = Annotated[str, Field(min_length=1, max_length=200)]


class QueuedFile(BaseModel):
    model_config = ConfigDict(extra="forbid")

    phone: Annotated[str, Field(min_length=1, max_length=60)] = Field(
        description="A name that the phone made up for itself; nothing of a person."
    )
    number: Annotated[int, Field(ge=1, lt=10**9)] = Field(
        description="Which check of this phone it is, counted from 1."
    )
    locked_at: AwareDatetime = Field(description="By the phone's clock, right or wrong.")
    sent_at: AwareDatetime = Field(description="By the same clock, when it is sent.")

    @property
    def clock(self) -> PhoneClock:
        return PhoneClock(_utc(self.locked_at), _utc(self.sent_at))


class ShiftCheckFile(BaseModel):
    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {
                "device": "boat-3",
                "preset": "ADULT",
                "state_read": "power-on",
                "minutes_off": 20,
                "readings": {
                    "heart-rate-low": {"state": "on", "limit": 50},
                    "spo2-low": {"state": "could-not-read", "why": "glare"},
                },
                "answers": {"alarms-on": "yes", "clock": "could-not-tell"},
                "queued": {
                    "phone": "7c0f",
                    "number": 12,
                    "locked_at": "2026-03-01T06:55:00Z",
                    "sent_at": "2026-03-01T07:40:00Z",
                },
            }
        },
    )

    device: Filled
    preset: Filled = Field(description="As the device showed it.")
    state_read: Literal["power-on", "in-use"]
    readings: Annotated[dict[str, ReadingFile], Field(max_length=MOST_READ)] = Field(
        description="By alarm condition: what the agency asks at a shift check."
    )
    answers: dict[Question, Answer] = {}
    minutes_off: Annotated[int, Field(ge=0, lt=10**6)] | None = None
    remark: Annotated[str, Field(max_length=2000)] = ""
    reader: Line = Field(
        default="", description="Whoever was signed in when it was locked: nobody else sends it."
    )
    values_seen_at: AwareDatetime | None = Field(
        default=None,
        description="When the phone last showed what this device holds, by its own clock; within an"
        " hour before it was locked, the check is no blind reading and bears nothing out.",
    )
    queued: QueuedFile | None = Field(default=None, description="None: it is of this moment.")


def new_check(file: ShiftCheckFile, *, key: str) -> NewShiftCheck:
    """Raises Refused with every fault."""
    told = [*complaints_of_readings(file.readings)]
    if told:
        raise Refused([Fault(reason, None, str(path[-1]), value) for path, reason, value in told])
    return NewShiftCheck(
        device=file.device,
        key=key,
        preset=file.preset,
        state_read=StateRead(file.state_read),
        readings={alarm: reading_of(one) for alarm, one in file.readings.items()},
        answers=file.answers,
        minutes_off=file.minutes_off,
        remark=file.remark,
        reader=file.reader,
        queued=None if file.queued is None else _queued(file.queued),
        seen=_seen(file),
    )


def _seen(file: ShiftCheckFile) -> bool:
    """Without a queue it is of this moment, so whatever the phone tells was not long ago."""
    opened = file.values_seen_at
    if file.queued is None or opened is None:
        return opened is not None
    return seen_before(_utc(opened), _utc(file.queued.locked_at))


def _queued(file: QueuedFile) -> Queued:
    return Queued(file.phone, file.number, file.clock)


def _utc(at: datetime) -> datetime:
    try:
        return at.astimezone(UTC)
    except OverflowError:
        raise Refused.because("is no time that a phone can show", column="locked_at") from None
