from datetime import datetime

from sqlmodel import Session

from app.domain.agencies import Agency
from app.domain.errors import NotFound
from app.domain.people import Person
from app.storage import agencies, people, setup_links


def agency(tx: Session, *, key: str) -> Agency:
    found = agencies.agency_by_key(tx, key)
    if found is None:
        raise NotFound("There is no such agency.")
    return found


def people_of(tx: Session, *, agency_id: int) -> list[Person]:
    return people.people_of(tx, agency_id)


def closed_people_of(tx: Session, *, agency_id: int) -> list[Person]:
    return people.closed_people_of(tx, agency_id)


def needs_setup(tx: Session) -> bool:
    """True until the first administrator of the installation exists."""
    return not people.any_administrator(tx)


def setup_link_works(tx: Session, *, token: str, now: datetime) -> bool:
    return setup_links.setup_link_works(tx, token=token, now=now)
