"""Band advice for one revision: its limits, the bounds in force, the models of the fleet."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.band_advice import BandAdvice, BandQuestion, band_advice
from app.domain.device_models import DeviceModel
from app.domain.errors import Refused
from app.domain.profiles import Profile
from app.lookups.model_records import known_models
from app.lookups.policy import OpenRevision, open_revision


@dataclass(frozen=True)
class AdvisedBands:
    """`advice` None: it was refused, for the reasons in `refused`."""

    found: OpenRevision
    advice: BandAdvice | None
    refused: Refused | None = None


def advised_bands(
    tx: Session, *, agency_id: int, number: int, question: BandQuestion, now: datetime
) -> AdvisedBands:
    found = open_revision(tx, agency_id=agency_id, number=number, now=now)
    models = list(_models(tx, found.profile, agency_id, now))
    try:
        advice = band_advice(question, bounds=found.bounds, models=models, profile=found.profile)
    except Refused as refused:
        return AdvisedBands(found, None, refused)
    return AdvisedBands(found, advice)


def _models(tx: Session, profile: Profile, agency_id: int, now: datetime) -> Iterator[DeviceModel]:
    """As the revision maps them, and as the fleet's own tests have found those it owns."""
    yield from profile.models.values()
    for known in known_models(tx, agency_id=agency_id, now=now):
        if known.record is not None and known.devices:
            facts = known.record.facts
            yield DeviceModel(known.key, (), facts.grid, facts.etco2_unit)
