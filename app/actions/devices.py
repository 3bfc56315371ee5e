from datetime import datetime

from sqlmodel import Session

from app.domain.devices import Device, check_tag
from app.domain.errors import Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line
from app.storage import devices, ledger


def add_device(
    tx: Session, *, tag: str, model: str, station: str, by: Person, now: datetime
) -> Device:
    check_may(by, Deed.ADD_DEVICE)
    check_tag(tag)
    model, station = line(model, column="model"), line(station, column="station")
    if devices.find_device(tx, agency_id=by.agency_id, tag=tag) is not None:
        raise Refused.because("a device has this tag already", column="tag", value=tag)
    device = devices.add_device(
        tx, agency_id=by.agency_id, tag=tag, model=model, station=station, now=now
    )
    about = {"device": tag, "model": model, "station": station}
    ledger.append(tx, agency=by.agency, did="add a device", by=by.username, at=now, about=about)
    return device
