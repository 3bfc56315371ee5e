"""The register of devices, for programs."""

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from app.actions.device_changes import change_software, move_device, use_device_as
from app.actions.devices import add_devices
from app.api.access import Member, Now, Reading, Writing, problems
from app.domain.clearances import Clearance, ClearanceState
from app.domain.devices import Device, Loan, RegisterStatus
from app.domain.new_devices import NewDevice
from app.domain.permissions import Deed, check_may
from app.domain.register_filter import Registered, Wanted
from app.lookups.register import DeviceOnRegister, device_on_register, register_part

router = APIRouter(tags=["fleet"])
MOST = 100_000
Text = Annotated[str, Field(max_length=300)]
STRICT = ConfigDict(extra="forbid")


class LoanShape(BaseModel):
    model_config = STRICT
    owner: Text
    since: date
    until: date | None = None


class ClearanceShape(BaseModel):
    state: ClearanceState = Field(description="None of them says: use no monitor.")
    words: str
    advice: str = Field(description="What to do; show it wherever the state is shown.")
    why: list[str]
    overridden: str | None = Field(description="By whom and until when, if anybody did.")


class DeviceShape(BaseModel):
    tag: str
    model: str
    station: str
    vehicle: str
    serial: str
    software: str
    status: RegisterStatus
    loan: LoanShape | None
    note: str
    clearance: ClearanceShape


class ListedDeviceShape(DeviceShape):
    holds: str = Field(description="holds, differs, unsafe or not-judged")
    oldest_read_at: datetime | None
    overdue: bool


class ChangeShape(BaseModel):
    kind: str
    at: datetime
    by: str
    changes: dict[str, tuple[str, str]] = Field(description="Field: as it was, as it is.")
    why: str
    worker: str


class WholeDeviceShape(DeviceShape):
    history: list[ChangeShape] = Field(description="The newest first.")


class NewDeviceBody(BaseModel):
    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {"tag": "boat-9", "model": "dunlin", "station": "Harbour", "software": "3.2"}
        },
    )
    tag: Text = Field(description="TAG.C, where C is the check character, or a tag without one.")
    model: Text
    station: Text
    vehicle: Text = ""
    serial: Text = ""
    software: Text = ""
    spare: bool = False
    loan: LoanShape | None = None
    note: Annotated[str, Field(max_length=4000)] = ""


class ChangeBody(BaseModel):
    """What is not given stays. Service, loan and retiring are told on the device's page."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"example": {"software": "3.3", "why": "yearly update"}},
    )
    station: Text | None = None
    vehicle: Text | None = None
    software: Text | None = None
    spare: bool | None = None
    why: Annotated[str, Field(max_length=4000)] = ""


class AskedQuery(BaseModel):
    station: Annotated[str, Field(max_length=200)] = ""
    model: Annotated[str, Field(max_length=200)] = ""
    status: RegisterStatus | None = Field(None, description="Else all but retired.")
    clearance: ClearanceState | None = None
    overdue: Annotated[bool, Field(description="Only those past the check interval.")] = False
    after: int = Field(0, ge=0, le=2**31, description="How many devices to leave out.")
    most: int = Field(MOST, ge=1, le=MOST)

    @property
    def wanted(self) -> Wanted:
        return Wanted(
            self.station, self.model, self.status or "", self.clearance or "", self.overdue
        )


_REFUSALS = problems(
    _401="Nobody is signed in.",
    _403="The person may not.",
    _404="No such agency or device; a wrong check character is told.",
    _409="The device is retired or away for service.",
    _422="The input is wrong: each fault by its field. Nothing was stored.",
)


@router.get("/{agency}/devices", summary="The register", responses=_REFUSALS)
def devices(
    person: Member, tx: Reading, now: Now, asked: Annotated[AskedQuery, Query()]
) -> list[ListedDeviceShape]:
    """With what each is known to hold, and whether it is cleared; by station and tag."""
    check_may(person, Deed.SEE_FLEET)
    found = register_part(
        tx,
        agency_id=person.agency_id,
        now=now,
        wanted=asked.wanted,
        first=asked.after,
        most=asked.most,
    )
    return [_listed(one) for one in found.lines]


@router.get("/{agency}/devices/{tag}", summary="One device", responses=_REFUSALS)
def device(person: Member, tx: Reading, now: Now, tag: str) -> WholeDeviceShape:
    """With the history of every change."""
    check_may(person, Deed.SEE_FLEET)
    return _whole(device_on_register(tx, agency_id=person.agency_id, tag=tag, now=now))


@router.post("/{agency}/devices", status_code=201, summary="Add a device", responses=_REFUSALS)
def add(person: Member, body: NewDeviceBody, tx: Writing, now: Now) -> WholeDeviceShape:
    """It is not cleared before somebody has read every preset of it."""
    given = body.model_dump(exclude={"loan"})
    loan = None if body.loan is None else Loan(**body.loan.model_dump())
    (added,) = add_devices(tx, new=[NewDevice(**given, loan=loan)], by=person, now=now)
    return _whole(device_on_register(tx, agency_id=person.agency_id, tag=added.tag, now=now))


@router.patch("/{agency}/devices/{tag}", summary="Tell of a change", responses=_REFUSALS)
def change(person: Member, tag: str, body: ChangeBody, tx: Writing, now: Now) -> WholeDeviceShape:
    """Each kind of change is kept in the history by itself, all of them or none."""
    check_may(person, Deed.CHANGE_DEVICE)
    found = device_on_register(tx, agency_id=person.agency_id, tag=tag, now=now).device
    why, by = body.why, person
    if body.station is not None or body.vehicle is not None:
        station = found.station if body.station is None else body.station
        vehicle = found.vehicle if body.vehicle is None else body.vehicle
        move_device(tx, tag=tag, station=station, vehicle=vehicle, why=why, by=by, now=now)
    if body.software is not None:
        change_software(tx, tag=tag, software=body.software, why=why, by=by, now=now)
    if body.spare is not None:
        use_device_as(tx, tag=tag, spare=body.spare, why=why, by=by, now=now)
    return _whole(device_on_register(tx, agency_id=person.agency_id, tag=tag, now=now))


def _shape(device: Device, clearance: Clearance) -> DeviceShape:
    loan, override = device.loan, clearance.override
    return DeviceShape(
        tag=device.tag,
        model=device.model,
        station=device.station,
        vehicle=device.vehicle,
        serial=device.serial,
        software=device.software,
        status=device.status,
        loan=None if loan is None else LoanShape(**vars(loan)),
        note=device.note,
        clearance=ClearanceShape(
            state=clearance.state,
            words=clearance.words,
            advice=clearance.advice,
            why=list(clearance.why),
            overridden=None if override is None else override.told,
        ),
    )


def _listed(one: Registered) -> ListedDeviceShape:
    return ListedDeviceShape(
        **_shape(one.mark.device, one.clearance).model_dump(),
        holds=one.held.value,
        oldest_read_at=one.oldest_read_at,
        overdue=one.overdue,
    )


def _whole(found: DeviceOnRegister) -> WholeDeviceShape:
    return WholeDeviceShape(
        **_shape(found.device, found.clearance).model_dump(),
        history=[
            ChangeShape(
                kind=one.kind.value,
                at=one.at,
                by=one.by,
                changes=dict(one.changes),
                why=one.why,
                worker=one.worker,
            )
            for one in found.history
        ],
    )
