"""What a replay found is kept, so that it can be shown, printed and asked about later."""

from datetime import datetime

from sqlmodel import Session

from app.domain.evidence import Evidence
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.evidence_json import packed_evidence
from app.storage import evidence, ledger
from app.storage.evidence import Fingerprints


def keep_evidence(
    tx: Session,
    found: Evidence,
    *,
    revision_id: int,
    told_from: Fingerprints,
    by: Person,
    now: datetime,
) -> None:
    check_may(by, Deed.REPLAY)
    evidence.keep_evidence(
        tx,
        packed_evidence(found),
        revision_id=revision_id,
        category=found.category,
        circumstance=found.circumstance,
        told_from=told_from,
        by=by,
        now=now,
    )
    about = {
        "revision": found.policy.revision,
        "category": found.category,
        **({"circumstance": found.circumstance} if found.circumstance else {}),
        "synthetic": found.synthetic,
        **vars(told_from),
    }
    ledger.append(
        tx, agency=by.agency, did="replay recordings", by=by.username, at=now, about=about
    )
