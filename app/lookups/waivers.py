from sqlmodel import Session

from app.domain.revisions import RevisionLine
from app.domain.waivers import Waiver
from app.storage import waivers


def waivers_of(tx: Session, revision: RevisionLine) -> tuple[Waiver, ...]:
    """In the order in which they were given; of a signed revision exactly those signed with it."""
    return waivers.waivers_of(tx, revision.id)
