from datetime import datetime

from sqlmodel import Session

from app.domain.invitations import Invitation
from app.domain.people import Person
from app.storage import invitations


def invited(tx: Session, *, token: str, now: datetime) -> Person | None:
    """Whose link this is, as long as it works."""
    return invitations.invited(tx, token=token, now=now)


def unused_invitations(tx: Session, *, agency_id: int) -> dict[str, Invitation]:
    return invitations.unused_invitations(tx, agency_id)
