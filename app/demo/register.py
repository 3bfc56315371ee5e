"""What the invented register tells: numbers, an update, a loan, a repair, two tested models."""

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from app.actions.agency_choices import choose
from app.actions.clearances import override_clearance
from app.actions.device_changes import (
    change_software,
    send_to_service,
    take_back_from_service,
)
from app.actions.devices import add_devices
from app.actions.model_records import record_model
from app.demo.models import MODELS
from app.demo.people import SIGN_INS, Staff
from app.demo.policy import FIRST_BEGAN, Event
from app.demo.rounds import SOFTWARE
from app.demo.stations import DEVICES, Placed
from app.demo.stories import STORIES
from app.domain.agency_choices import AgencyChoices
from app.domain.clearances import ClearanceState
from app.domain.devices import Loan
from app.domain.model_records import Happening, ModelFacts, Outcome, grid_from
from app.domain.new_devices import NewDevice
from app.domain.people import Person, Role

_DAY, _HOUR = timedelta(days=1), timedelta(hours=1)
_LENT, _REPAIRED, _ON_HER_WORD = "air-8", "boat-4", "road-20"
_CRITICAL = (
    "heart-rate-low",
    "heart-rate-high",
    "spo2-low",
    "respiratory-rate-low",
    "respiratory-rate-high",
    "apnoea",
    "airway-apnoea",
    "etco2-low",
    "etco2-high",
    "nibp-systolic-low",
    "temperature-high",
    "asystole",
    "ventricular-fibrillation",
    "ventricular-tachycardia",
)


def register_events(tx: Any, staff: Staff) -> Iterator[Event]:
    femi, dana = staff[Role.FLEET_MANAGER], staff[Role.MEDICAL_DIRECTOR]
    yield (
        FIRST_BEGAN * _DAY - 10 * _HOUR,
        lambda now: choose(tx, choices=AgencyChoices(critical_alarms=_CRITICAL), by=dana, now=now),
    )
    yield (FIRST_BEGAN - 1) * _DAY - 9 * _HOUR, lambda now: _arrivals(tx, femi, now)
    yield 60 * _DAY - 11 * _HOUR, lambda now: _tests(tx, staff[Role.TECHNICIAN], now)
    for device in DEVICES:
        story = STORIES.get(device.tag)
        if story is not None and story.software and story.read:
            yield (
                (min(story.read) + 1) * _DAY - 9 * _HOUR,
                _update(tx, device.tag, story.software, staff[Role.TECHNICIAN]),
            )
    yield from _repair(tx, staff)
    yield 4 * _DAY - 10 * _HOUR, lambda now: _word(tx, dana, now)


def _arrivals(tx: Any, by: Person, now: datetime) -> None:
    new = [_arrival(number, device, now.date()) for number, device in enumerate(DEVICES, start=1)]
    add_devices(tx, new=new, by=by, now=now)


def _arrival(number: int, device: Placed, today: date) -> NewDevice:
    lent = device.tag == _LENT
    return NewDevice(
        device.tag,
        device.model,
        device.station,
        serial=f"{device.model[:2].upper()}{20_000 + 37 * number}",
        software=SOFTWARE[device.model],
        spare=device.tag.startswith("spare"),
        loan=Loan("Far Holm Air Rescue", today) if lent else None,
    )


def _update(tx: Any, tag: str, software: str, by: Person) -> Callable[[datetime], object]:
    return lambda now: change_software(
        tx, tag=tag, software=software, why="Yearly update", by=by, now=now
    )


def _repair(tx: Any, staff: Staff) -> Iterator[Event]:
    femi, tess = staff[Role.FLEET_MANAGER], staff[Role.TECHNICIAN]
    worker = next(one.username for one in SIGN_INS if one.role is Role.TECHNICIAN)
    yield (
        2 * _DAY - 8 * _HOUR,
        lambda now: send_to_service(
            tx, tag=_REPAIRED, why="The battery lasts for minutes only", by=tess, now=now
        ),
    )
    yield (
        10 * _HOUR,
        lambda now: take_back_from_service(
            tx,
            tag=_REPAIRED,
            software="",
            worker=worker,
            spare=False,
            why="New battery and main board",
            by=femi,
            now=now,
        ),
    )


def _word(tx: Any, dana: Person, now: datetime) -> None:
    override_clearance(
        tx,
        tag=_ON_HER_WORD,
        to=ClearanceState.BY_HAND,
        reason="EtCO₂ low alone is off; until the maker's correction comes it rides with the card",
        until=now.date() + timedelta(days=21),
        by=dana,
        now=now,
    )


def _tests(tx: Any, by: Person, now: datetime) -> None:
    record_model(tx, key="dunlin", facts=_tested("dunlin", now.date(), retention=2), by=by, now=now)
    longer = _tested("turnstone", now.date(), retention=8)
    record_model(tx, key="turnstone", facts=longer, by=by, now=now)


def _tested(model: str, day: date, *, retention: int) -> ModelFacts:
    signed = MODELS[model]
    return ModelFacts(
        label=model.title(),
        presets=tuple(signed["presets"]),
        grid=grid_from(signed["grid"]),
        etco2_unit=signed["etco2_unit"],
        retention_min=Decimal(retention),
        reverts={
            Happening.POWER_OFF: Outcome.REVERTS,
            Happening.STANDBY: Outcome.KEEPS,
            Happening.DISCONNECT: Outcome.KEEPS,
            Happening.NEW_PATIENT: Outcome.REVERTS,
        },
        software=SOFTWARE[model],
        tested_on=day,
        tested_by="Tess Loft and Cruz Bell",
        audible="At the attendant's seat, engine running, volume 80: heard twice of two",
    )
