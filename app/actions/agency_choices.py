from dataclasses import asdict
from datetime import datetime

from sqlmodel import Session

from app.domain.agency_choices import AgencyChoices
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.storage import ledger
from app.storage.agencies import agency_by_id, change_choices, lock_policy


def choose(tx: Session, *, choices: AgencyChoices, by: Person, now: datetime) -> None:
    """The ledger tells what was chosen before and after; the same again changes nothing."""
    check_may(by, Deed.CHOOSE)
    lock_policy(tx, by.agency_id)
    before = agency_by_id(tx, by.agency_id).choices
    if before == choices:
        return
    change_choices(tx, by.agency_id, choices)
    old, new = asdict(before), asdict(choices)
    about = {name: [old[name], new[name]] for name in new if old[name] != new[name]}
    ledger.append(
        tx, agency=by.agency, did="choose for the agency", by=by.username, at=now, about=about
    )
