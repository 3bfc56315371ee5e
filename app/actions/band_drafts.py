"""A new draft in which an author takes over bands that were advised; nothing else changes."""

import json
from collections.abc import Sequence
from datetime import datetime

from sqlmodel import Session

from app.actions.revision_entries import revision_of, tell
from app.actions.revisions import start_draft
from app.domain.band_advice import Band
from app.domain.band_drafts import with_bands
from app.domain.errors import Conflict, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import StoredRevision
from app.domain.settings_of_alarms import as_number
from app.domain.vital_signs import VitalSign


def draft_from_bands(
    tx: Session,
    *,
    number: int,
    fingerprint: str,
    vital: VitalSign,
    bands: Sequence[Band],
    by: Person,
    now: datetime,
) -> StoredRevision:
    """`fingerprint` of the revision that the advice was about; Conflict where it changed since."""
    check_may(by, Deed.EDIT_DRAFT)
    found = revision_of(tx, number, by)
    if found.fingerprint != fingerprint:
        raise Conflict(f"Revision {number} was changed since the advice was given: look again.")
    if not bands:
        raise Refused.because("confirm at least one band", column="confirm")
    document = with_bands(json.loads(found.document), vital, bands)
    started = start_draft(tx, document=document, by=by, now=now)
    told = [_told(band) for band in bands]
    about = {"from_revision": number, "vital_sign": vital.key, "bands": told}
    tell(tx, "take over advised bands", started, by=by, now=now, **about)
    return started


def _told(band: Band) -> dict[str, object]:
    low, high = (None if one is None else as_number(one) for one in (band.low, band.high))
    return {"ages": band.ages.words(), "low": low, "high": high}
