"""The register of devices, and what it keeps of one of them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session

from app.domain.clearances import Cause, Clearance, Override
from app.domain.device_changes import DeviceChange
from app.domain.device_tags import next_tag, stem_of
from app.domain.devices import Device
from app.domain.known_devices import Mark
from app.domain.natural_order import natural
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.domain.register_filter import Registered, Wanted
from app.lookups.clearances import clearance_of_device, clearances_of
from app.storage import clearances, device_changes, devices, devices_now, people, reading_sessions
from app.storage.agencies import agency_by_id
from app.storage.register_rows import marks_wanted, number_wanted

_MOST_PROPOSED = 6


@dataclass(frozen=True)
class RegisterPart:
    """Some of the `matching` devices."""

    lines: tuple[Registered, ...]
    matching: int


def register(
    tx: Session, *, agency_id: int, now: datetime, wanted: Wanted
) -> tuple[Registered, ...]:
    """All that match, in the order of stations and tags; a constant number of statements."""
    interval = agency_by_id(tx, agency_id).choices.check_interval
    found = marks_wanted(tx, agency_id, wanted, overdue_before=now - interval)
    lines = _lines(tx, agency_id, found, now, interval)
    return tuple(one for one in lines if wanted.clearance in ("", one.clearance.state.value))


def register_part(
    tx: Session, *, agency_id: int, now: datetime, wanted: Wanted, first: int, most: int
) -> RegisterPart:
    """Clearance alone is no column: whoever narrows by it has the whole fleet looked at."""
    if wanted.clearance:
        found = register(tx, agency_id=agency_id, now=now, wanted=wanted)
        return RegisterPart(found[first : first + most], len(found))
    interval = agency_by_id(tx, agency_id).choices.check_interval
    late = now - interval
    marks = marks_wanted(tx, agency_id, wanted, overdue_before=late, first=first, most=most)
    number = number_wanted(tx, agency_id, wanted, overdue_before=late)
    return RegisterPart(tuple(_lines(tx, agency_id, marks, now, interval)), number)


def _lines(
    tx: Session, agency_id: int, marks: Sequence[Mark], now: datetime, interval: timedelta
) -> Iterator[Registered]:
    late = now - interval
    found = clearances_of(tx, agency_id=agency_id, marks=marks, now=now)
    for mark in marks:
        read_at = mark.oldest_read_at
        yield Registered(
            mark,
            mark.status(overdue_before=late),
            found[mark.device.tag],
            read_at is None or read_at < late,
        )


@dataclass(frozen=True)
class Places:
    """What is known already, so that it can be chosen instead of written."""

    stations: tuple[str, ...]
    models: tuple[str, ...]
    tags: tuple[str, ...]

    @property
    def proposed(self) -> tuple[str, ...]:
        """The next free tag of each row of tags, with its check character."""
        prefixes = {stem_of(tag).rpartition("-")[0] for tag in self.tags}
        wanted = sorted(prefix for prefix in prefixes if prefix) or ["device"]
        return tuple(next_tag(self.tags, prefix) for prefix in wanted[:_MOST_PROPOSED])


def places(tx: Session, *, agency_id: int) -> Places:
    found = devices.places_of(tx, agency_id)
    return Places(
        tuple(sorted({station for _, station, _ in found}, key=natural)),
        tuple(sorted({model for *_, model in found})),
        tuple(tag for tag, *_ in found),
    )


@dataclass(frozen=True)
class DeviceOnRegister:
    """`override` may stand without deciding: it has ended, or covers nothing any more. `read_now`:
    a blind look at it is wanted."""

    device: Device
    clearance: Clearance
    cause: Cause | None
    override: Override | None
    history: tuple[DeviceChange, ...]
    read_now: bool


def device_on_register(tx: Session, *, agency_id: int, tag: str, now: datetime) -> DeviceOnRegister:
    device = devices.device_tagged(tx, agency_id=agency_id, tag=tag)
    known = devices_now.device_now(tx, device.id)
    only = devices.DeviceRow.id == device.id
    return DeviceOnRegister(
        device,
        clearance_of_device(tx, agency_id=agency_id, device=device, known=known, now=now),
        clearances.cause_of(tx, agency_id, device.id),
        clearances.overrides_of(tx, agency_id, only).get(device.id),
        tuple(device_changes.changes_of(tx, device.id)),
        bool(reading_sessions.waiting_sessions(tx, agency_id=agency_id, device=tag)),
    )


def workers(tx: Session, *, agency_id: int) -> list[Person]:
    """Who may have done the work on a device."""
    return [one for one in people.people_of(tx, agency_id) if may(one, Deed.CHANGE_DEVICE)]
