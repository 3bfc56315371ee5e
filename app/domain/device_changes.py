"""What may happen to a device on the register; every change is kept with who, when and why."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from app.domain.devices import Device, Loan, RegisterStatus
from app.domain.errors import NotNow


class ChangeKind(StrEnum):
    ADDED = "added"
    MOVED = "moved"
    SOFTWARE = "software-changed"
    SENT_AWAY = "sent-to-service"
    CAME_BACK = "back-from-service"
    BORROWED = "came-on-loan"
    LOAN_CHANGED = "loan-changed"
    PUT_IN_SERVICE = "put-in-service"
    MADE_SPARE = "made-a-spare"
    RETIRED = "retired"
    BROUGHT_BACK = "brought-back"
    CORRECTED = "corrected"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


CAUSES = frozenset(
    {
        ChangeKind.CAME_BACK,
        ChangeKind.SOFTWARE,
        ChangeKind.BORROWED,
        ChangeKind.MOVED,
        ChangeKind.BROUGHT_BACK,
    }
)
"""After these a device is cleared again by a blind reading only; a move only between stations."""


@dataclass(frozen=True)
class DeviceChange:
    """`changes`: field → as it was and as it is. `worker`: who did the work, where one did."""

    kind: ChangeKind
    at: datetime
    by: str
    changes: Mapping[str, tuple[str, str]]
    why: str
    worker: str = ""


@dataclass(frozen=True)
class Changed:
    """`before` None: it is new. `cause`: it must be read blind before it is cleared again."""

    before: Device | None
    after: Device
    kind: ChangeKind

    @property
    def changes(self) -> dict[str, tuple[str, str]]:
        old = dict[str, str]() if self.before is None else facts_of(self.before)
        return {
            name: (old.get(name, ""), value)
            for name, value in facts_of(self.after).items()
            if old.get(name, "") != value
        }

    @property
    def cause(self) -> bool:
        if self.kind is ChangeKind.MOVED:
            return self.before is not None and self.before.station != self.after.station
        return self.kind in CAUSES


def moved(device: Device, *, station: str, vehicle: str) -> Changed:
    _check_there(device)
    return _changed(device, ChangeKind.MOVED, station=station, vehicle=vehicle)


def software_changed(device: Device, software: str) -> Changed:
    _check_there(device)
    return _changed(device, ChangeKind.SOFTWARE, software=software)


def sent_away(device: Device) -> Changed:
    _check_there(device)
    return _changed(device, ChangeKind.SENT_AWAY, status=RegisterStatus.AWAY)


def came_back(device: Device, *, software: str, spare: bool) -> Changed:
    if device.status is not RegisterStatus.AWAY:
        raise NotNow(f"{device.tag} is not away for service.")
    status = RegisterStatus.SPARE if spare else RegisterStatus.IN_SERVICE
    return _changed(
        device, ChangeKind.CAME_BACK, status=status, software=software or device.software
    )


def lent(device: Device, loan: Loan | None) -> Changed:
    """None: it is our own. Coming on loan needs a reading; another day of return does not."""
    _check_not_retired(device)
    same = device.loan is not None and loan is not None and device.loan.owner == loan.owner
    borrowed = loan is not None and not same
    kind = ChangeKind.BORROWED if borrowed else ChangeKind.LOAN_CHANGED
    return _changed(device, kind, loan=loan)


def used_as(device: Device, *, spare: bool) -> Changed:
    _check_there(device)
    if spare:
        return _changed(device, ChangeKind.MADE_SPARE, status=RegisterStatus.SPARE)
    return _changed(device, ChangeKind.PUT_IN_SERVICE, status=RegisterStatus.IN_SERVICE)


def retired(device: Device) -> Changed:
    _check_not_retired(device)
    return _changed(device, ChangeKind.RETIRED, status=RegisterStatus.RETIRED)


def brought_back(device: Device) -> Changed:
    """As a spare, which nobody uses before it is read."""
    if not device.retired:
        raise NotNow(f"{device.tag} is not retired.")
    return _changed(device, ChangeKind.BROUGHT_BACK, status=RegisterStatus.SPARE)


def corrected(device: Device, *, serial: str, note: str) -> Changed:
    return _changed(device, ChangeKind.CORRECTED, serial=serial, note=note)


def _check_not_retired(device: Device) -> None:
    if device.retired:
        raise NotNow(f"{device.tag} is retired. Bring it back first.")


def _check_there(device: Device) -> None:
    _check_not_retired(device)
    if device.status is RegisterStatus.AWAY:
        raise NotNow(f"{device.tag} is away for service. Tell that it came back first.")


def _changed(device: Device, kind: ChangeKind, **fields: object) -> Changed:
    after = replace(device, **fields)  # type: ignore[arg-type]
    return Changed(device, after, kind)


SHOWN = ("tag", "model", "station", "vehicle", "serial", "software", "status", "note")


def facts_of(device: Device) -> dict[str, str]:
    """Everything that the register says of a device, as text."""
    loan = device.loan
    return {name: str(getattr(device, name)) for name in SHOWN} | {
        "owner": "" if loan is None else loan.owner,
        "loan_from": "" if loan is None else loan.since.isoformat(),
        "loan_until": "" if loan is None or loan.until is None else loan.until.isoformat(),
    }
