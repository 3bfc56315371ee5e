"""The register of device models, beside what is signed of them."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.device_models import DeviceModel
from app.domain.model_records import ModelRecord, disagreements
from app.domain.profiles import Profile
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, model_records
from app.storage.revisions import revision_in_force


@dataclass(frozen=True)
class KnownModel:
    """`record` None: nobody has recorded it. `signed` None: the policy in force does not map it."""

    key: str
    record: ModelRecord | None
    signed: DeviceModel | None
    devices: int

    @property
    def disagreements(self) -> tuple[str, ...]:
        if self.record is None or self.signed is None:
            return ()
        return disagreements(self.record.facts, self.signed)


def known_models(tx: Session, *, agency_id: int, now: datetime) -> list[KnownModel]:
    """In three statements: every model that is recorded, signed or on the register."""
    records = model_records.latest_records(tx, agency_id)
    revision = revision_in_force(tx, agency_id=agency_id, at=now)
    signed = {} if revision is None else stored_profile(revision.document).models
    counts: dict[str, int] = {}
    for (model, _), count in devices.count_by_place(tx, agency_id).items():
        counts[model] = counts.get(model, 0) + count
    return [
        KnownModel(key, records.get(key), signed.get(key), counts.get(key, 0))
        for key in sorted({*records, *signed, *counts})
    ]


def fleet_models(
    tx: Session, profile: Profile, *, agency_id: int, now: datetime
) -> tuple[DeviceModel, ...]:
    """As a revision maps them, and as the fleet's own tests have found those it owns."""
    tested = [
        DeviceModel(known.key, (), known.record.facts.grid, known.record.facts.etco2_unit)
        for known in known_models(tx, agency_id=agency_id, now=now)
        if known.record is not None and known.devices
    ]
    return (*profile.models.values(), *tested)


def known_model(tx: Session, *, agency_id: int, key: str, now: datetime) -> KnownModel | None:
    found = known_models(tx, agency_id=agency_id, now=now)
    return next((one for one in found if one.key == key), None)


def earlier_records(tx: Session, *, agency_id: int, key: str) -> list[ModelRecord]:
    """The newest first, without the one that stands."""
    return model_records.records_of(tx, agency_id=agency_id, key=key)[1:]


def latest_record(tx: Session, *, agency_id: int, key: str) -> ModelRecord | None:
    return model_records.latest_records(tx, agency_id).get(key)
