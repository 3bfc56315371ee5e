from sqlmodel import Session

from app.domain.crew_codes import opens
from app.storage.crew_codes import crew_code_hash


def crew_code_asked(tx: Session, *, agency_id: int) -> bool:
    return crew_code_hash(tx, agency_id) is not None


def lets_in(tx: Session, *, agency_id: int, carried: str) -> bool:
    """`carried`: the pass of a phone, "" for none. Everybody, where no code is asked for."""
    found = crew_code_hash(tx, agency_id)
    return found is None or opens(found, carried)
