"""Which devices may be used as they are; the answer is worked out anew at every look."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlmodel import Session, col

from app.domain.clearances import Clearance, clearance_of
from app.domain.devices import Device
from app.domain.known_devices import DeviceNow, Mark
from app.domain.local_days import local_day
from app.storage import clearances
from app.storage.agencies import agency_by_id
from app.storage.devices import DeviceRow
from app.storage.quarantines import standing_on
from app.storage.shift_checks import grave_by_device

_FEW = 500  # so many are named one by one; above that the whole agency is asked


def clearances_of(
    tx: Session, *, agency_id: int, marks: Iterable[Mark], now: datetime
) -> dict[str, Clearance]:
    """By tag, in six statements however many devices."""
    found = list(marks)
    few = [mark.device.id for mark in found] if len(found) <= _FEW else []
    conditions = [col(DeviceRow.id).in_(few)] if few else []
    return _clearances(tx, agency_id, found, now, *conditions)


def clearance_of_device(
    tx: Session, *, agency_id: int, device: Device, known: DeviceNow | None, now: datetime
) -> Clearance:
    mark = Mark(device) if known is None else known.mark(device)
    only = DeviceRow.id == device.id
    return _clearances(tx, agency_id, [mark], now, only)[device.tag]


def _clearances(
    tx: Session, agency_id: int, marks: Iterable[Mark], now: datetime, *conditions: Any
) -> dict[str, Clearance]:
    agency = agency_by_id(tx, agency_id)
    causes = clearances.causes_of(tx, agency_id, *conditions)
    findings = clearances.open_findings_of(tx, agency_id, *conditions, now=now)
    overrides = clearances.overrides_of(tx, agency_id, *conditions)
    quarantined = standing_on(tx, agency_id)
    by_crew = grave_by_device(tx, agency_id, *conditions)
    return {
        mark.device.tag: clearance_of(
            mark,
            cause=causes.get(mark.device.id),
            findings=findings.get(mark.device.id, []),
            override=overrides.get(mark.device.id),
            today=local_day(now, agency.time_zone),
            overdue_before=now - agency.choices.check_interval,
            quarantined=mark.device.tag in quarantined,
            crew_found=by_crew.get(mark.device.id, ()),
        )
        for mark in marks
    }
