"""What the agency decides about checking devices: read by everybody, chosen by a few."""

import re
from collections.abc import Collection
from dataclasses import asdict, dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.agency_choices import choose
from app.domain.agency_choices import MOST_AT_SHIFT, MOST_CRITICAL, AgencyChoices
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.errors import Fault, Refused
from app.domain.permissions import Deed, check_may, may
from app.domain.shift_questions import QUESTIONS, Question
from app.domain.vital_signs import VITAL_SIGNS
from app.lookups.agencies import agency
from app.lookups.crew_codes import crew_code_asked
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/choices")
_WHOLE = re.compile(r"\d{1,6}", re.ASCII)
Number = Annotated[str, Field(max_length=20)]
Several = Annotated[list[Annotated[str, Field(max_length=60)]], Field(max_length=200)]


@dataclass(frozen=True)
class Asked:
    name: str
    label: str
    unit: str
    hint: str = ""


FIELDS = {
    "Reading": (
        Asked("check_interval_days", "Check interval", "days", "After it a device is under water"),
        Asked(
            "whole_reading_percent",
            "Checks in which the whole preset is asked",
            "%",
            "Chance chooses which",
        ),
    ),
    "Changeover to a new revision": (
        Asked("most_changed_days", "80 percent of devices within", "days"),
        Asked("changeover_days", "All of them within", "days", "After it a device was missed"),
    ),
    "Findings: hours from opening": (
        Asked("unsafe_contain_hours", "Unsafe: contained within", "h", "Before the next patient"),
        Asked("unsafe_verify_hours", "Unsafe: verified within", "h"),
        Asked("looser_contain_hours", "Looser or switched off: contained within", "h"),
        Asked("looser_verify_hours", "Looser or switched off: verified within", "h"),
        Asked("tighter_verify_hours", "Tighter or other: verified within", "h"),
    ),
    "Limits on a phone": (
        Asked("copy_hours", "A copy says that it is old after", "h", "Kept for places without net"),
    ),
    "Shift check": (
        Asked("shift_hours", "Every device in service is checked every", "h", "Spares are not"),
    ),
}
LISTS = ("critical", "shift", "questions")


class ChoicesEntry(BaseModel):
    check_interval_days: Number = ""
    changeover_days: Number = ""
    most_changed_days: Number = ""
    unsafe_contain_hours: Number = ""
    unsafe_verify_hours: Number = ""
    looser_contain_hours: Number = ""
    looser_verify_hours: Number = ""
    tighter_verify_hours: Number = ""
    whole_reading_percent: Number = ""
    copy_hours: Number = ""
    shift_hours: Number = ""
    shift_tell: Annotated[str, Field(max_length=200)] = ""
    critical: Several = []
    shift: Several = []
    questions: Several = []

    def choices(self) -> AgencyChoices:
        typed = {
            name: value.strip()
            for name, value in self.model_dump().items()
            if name not in (*LISTS, "shift_tell")
        }
        wrong = [name for name, value in typed.items() if _WHOLE.fullmatch(value) is None]
        if wrong:
            raise Refused([Fault("write a whole number", column=name) for name in wrong])
        numbers: dict[str, Any] = {name: int(value) for name, value in typed.items()}
        return AgencyChoices(
            critical_alarms=_in_order(self.critical, ALARM_CONDITIONS),
            shift_alarms=_in_order(self.shift, ALARM_CONDITIONS),
            shift_questions=_in_order(self.questions, tuple(QUESTIONS)),
            shift_tell=self.shift_tell.strip(),
            **numbers,
        )

    @classmethod
    def of(cls, choices: AgencyChoices) -> "ChoicesEntry":
        kept = asdict(choices)
        return cls(
            critical=list(kept.pop("critical_alarms")),
            shift=list(kept.pop("shift_alarms")),
            questions=list(kept.pop("shift_questions")),
            **{name: str(value) for name, value in kept.items()},
        )


def _in_order(chosen: list[str], known: Collection[str]) -> tuple[str, ...]:
    """What is unknown comes last, so that it is told."""
    return (*(one for one in known if one in chosen), *(one for one in chosen if one not in known))


@dataclass(frozen=True)
class AlarmGroup:
    label: str
    alarms: tuple[AlarmCondition, ...]


def _groups() -> tuple[AlarmGroup, ...]:
    signs = {
        sign.label: tuple(one for one in ALARM_CONDITIONS.values() if one.key in _sided(sign.key))
        for sign in VITAL_SIGNS.values()
    }
    grouped = {one.key for found in signs.values() for one in found}
    events = tuple(one for one in ALARM_CONDITIONS.values() if one.key not in grouped)
    return tuple(AlarmGroup(*one) for one in [*signs.items(), ("Events", events)])


def _sided(sign: str) -> tuple[str, str]:
    return f"{sign}-low", f"{sign}-high"


GROUPS = _groups()


@dataclass(frozen=True)
class ChoicesPage:
    entry: ChoicesEntry
    may_choose: bool
    code_asked: bool
    faults: tuple[Fault, ...] = ()
    most_critical: int = MOST_CRITICAL
    most_at_shift: int = MOST_AT_SHIFT
    questions: tuple[Question, ...] = QUESTIONS

    @property
    def fields(self) -> dict[str, tuple[Asked, ...]]:
        return FIELDS

    @property
    def groups(self) -> tuple[AlarmGroup, ...]:
        return GROUPS

    @property
    def names(self) -> list[str]:
        return [*ChoicesEntry.model_fields, "critical_alarms", "shift_alarms", "shift_questions"]


@router.get("")
def page(request: Request, person: Member, tx: Reading) -> Response:
    entry = ChoicesEntry.of(agency(tx, key=person.agency).choices)
    asked = crew_code_asked(tx, agency_id=person.agency_id)
    return render(request, "choices.html", ChoicesPage(entry, may(person, Deed.CHOOSE), asked))


@router.post("")
def save(
    request: Request, person: Member, now: Now, entry: Annotated[ChoicesEntry, Form()]
) -> Response:
    check_may(person, Deed.CHOOSE)
    try:
        choices = entry.choices()
        with request.app.state.database.writing() as tx:
            choose(tx, choices=choices, by=person, now=now)
    except Refused as refused:
        with request.app.state.database.reading() as tx:
            asked = crew_code_asked(tx, agency_id=person.agency_id)
        again = ChoicesPage(entry, may(person, Deed.CHOOSE), asked, refused.faults)
        return render(request, "choices.html", again, status=422)
    return done(f"/{person.agency}/choices", "Chosen. It holds from now on.")
