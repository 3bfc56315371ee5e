"""The library of recorded trends: what comes in, what is invented, what is taken out again."""

from datetime import datetime

import numpy as np
from sqlmodel import Session

from app.domain.errors import NotFound, NotNow, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import free_line, line
from app.domain.profiles import Profile
from app.domain.recordings import NewRecording, Recording, check_size
from app.domain.reference_ranges import PUBLISHED
from app.domain.synthetic_cohort import Assumed, synthetic_cohort
from app.domain.trends import Trends
from app.exchange.packed_trends import packed
from app.exchange.stored_profiles import stored_profile
from app.exchange.trend_columns import check_words
from app.storage import ledger, recordings, revisions
from app.storage.agencies import lock_policy

Packed = tuple[bytes, str]


def pack_trends(trends: Trends) -> Packed:
    """Outside of any transaction, for it takes its time. Raises Refused where there is too much,
    or nothing at all."""
    check_size(trends.rows, len(trends.values))
    if all(np.isnan(values).all() for values in trends.values.values()):
        raise Refused.because("nothing was measured in it: every value is empty", column="file")
    return packed(trends.begun_anew())


def add_recording(
    tx: Session, new: NewRecording, trends: Trends, kept: Packed, *, by: Person, now: datetime
) -> Recording:
    """`kept` is what `pack_trends` made of the trends."""
    check_may(by, Deed.KEEP_RECORDINGS)
    lock_policy(tx, by.agency_id)
    new = _checked(new)
    for known in recordings.recordings_of(tx, by.agency_id, category=new.category):
        if known.fingerprint == kept[1]:
            raise Refused.because(
                f"these trends are in the library already, as recording {known.number}",
                column="file",
            )
    number = recordings.add_recording(tx, new, trends, kept=kept, by=by, now=now)
    about = {"recording": number, **vars(new), "fingerprint": kept[1], "patients": trends.patients}
    ledger.append(tx, agency=by.agency, did="keep a recording", by=by.username, at=now, about=about)
    return _of(tx, by, number)


def _checked(new: NewRecording) -> NewRecording:
    check_words(new.name, "name")
    check_words(new.origin, "origin")
    return NewRecording(
        line(new.name, column="name"),
        line(new.category, column="category"),
        free_line(new.origin, column="origin"),
        new.synthetic,
    )


def add_synthetic(
    tx: Session, category: str, assumed: Assumed, *, by: Person, now: datetime
) -> Recording:
    """Of a category of the newest revision, so that also a first draft has something to ask."""
    check_may(by, Deed.KEEP_RECORDINGS)
    found = _newest(tx, by.agency_id).category(category)
    if found is None:
        raise Refused.because("choose a category of the newest revision", column="category")
    cohort = synthetic_cohort(found.span, PUBLISHED, assumed)
    name = f"Synthetic cohort, {found.label}"[:80]
    new = NewRecording(name, category, "invented by Marchstone", cohort.words)
    return add_recording(tx, new, cohort.trends, pack_trends(cohort.trends), by=by, now=now)


def _newest(tx: Session, agency_id: int) -> Profile:
    lines = revisions.lines_of(tx, agency_id)
    newest = (
        revisions.find_revision(tx, agency_id=agency_id, number=lines[-1].number) if lines else None
    )
    if newest is None:
        raise NotNow("There is no policy yet whose categories could be asked about.")
    return stored_profile(newest.document)


def remove_recording(tx: Session, *, number: int, by: Person, now: datetime) -> Recording:
    """What was told from it stays, with its fingerprint."""
    check_may(by, Deed.KEEP_RECORDINGS)
    gone = _of(tx, by, number)
    recordings.drop_recording(tx, gone)
    about = {"recording": number, "fingerprint": gone.fingerprint}
    ledger.append(
        tx, agency=by.agency, did="remove a recording", by=by.username, at=now, about=about
    )
    return gone


def _of(tx: Session, by: Person, number: int) -> Recording:
    for found in recordings.recordings_of(tx, by.agency_id):
        if found.number == number:
            return found
    raise NotFound(f"There is no recording {number}.")
