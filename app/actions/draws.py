from collections.abc import Sequence
from datetime import datetime
from fractions import Fraction

from sqlmodel import Session

from app.domain.devices import Device
from app.domain.draws import Listed, StoredDraw, Strata, draw, size_for
from app.domain.errors import Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line
from app.storage import devices, draws, ledger
from app.storage.agencies import lock_policy

HIGHEST_CONFIDENCE = Fraction(999, 1000)
MOST_TOLERATED = Fraction(1, 2)


def draw_devices(
    tx: Session,
    *,
    purpose: str,
    strata: Strata,
    tolerate: Fraction,
    confidence: Fraction,
    seed: str,
    by: Person,
    now: datetime,
) -> StoredDraw:
    """The ledger keeps seed and fingerprint of the list, so nobody draws again until it suits."""
    check_may(by, Deed.DRAW_SAMPLE)
    purpose = line(purpose, column="purpose")
    _check_plan(tolerate, confidence)
    lock_policy(tx, by.agency_id)
    listed = _listed(devices.devices_of(tx, by.agency_id), strata)
    size = size_for(len(listed), tolerate=tolerate, confidence=confidence)
    drawn = draw(listed, size=size, seed=seed)
    number = draws.add_draw(
        tx, drawn, purpose=purpose, strata=strata, confidence=confidence, by=by, now=now
    )
    about = {
        "draw": number,
        "purpose": purpose,
        "seed": seed,
        "list": drawn.fingerprint,
        "chosen": list(drawn.chosen),
    }
    ledger.append(tx, agency=by.agency, did="draw a sample", by=by.username, at=now, about=about)
    found = draws.find_draw(tx, agency_id=by.agency_id, number=number)
    if found is None:
        raise RuntimeError("a draw is there once it is stored")
    return found


def _check_plan(tolerate: Fraction, confidence: Fraction) -> None:
    if not 0 < tolerate <= MOST_TOLERATED:
        raise Refused.because("choose above 0 and at most 50%", column="tolerate")
    if not MOST_TOLERATED <= confidence <= HIGHEST_CONFIDENCE:
        raise Refused.because("choose 50% to 99.9%", column="confidence")


def _listed(found: Sequence[Device], strata: Strata) -> list[Listed]:
    if not found:
        raise Refused.because("there is no device to draw from", column="strata")
    return [
        Listed(one.tag, "" if strata is Strata.NONE else str(getattr(one, strata.value)))
        for one in found
    ]
