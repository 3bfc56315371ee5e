"""Band advice for one revision: its limits, the bounds in force, the models of the fleet."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.band_advice import BandAdvice, BandQuestion, band_advice
from app.domain.errors import Refused
from app.lookups.model_records import fleet_models
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
    models = fleet_models(tx, found.profile, agency_id=agency_id, now=now)
    try:
        advice = band_advice(question, bounds=found.bounds, models=models, profile=found.profile)
    except Refused as refused:
        return AdvisedBands(found, None, refused)
    return AdvisedBands(found, advice)
