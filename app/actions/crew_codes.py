"""The crew code: set and taken back by whoever decides for the agency, typed by anybody."""

import math
from datetime import datetime, timedelta

from sqlmodel import Session

from app.actions.passwords import digest_of, matches
from app.domain.agencies import Agency
from app.domain.crew_codes import check_code, crew_pass, plain_code
from app.domain.errors import Refused, TooMany
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.throttling import FREE_PER_ADDRESS, FREE_PER_CREW_CODE
from app.storage import ledger
from app.storage.agencies import lock_policy
from app.storage.crew_codes import crew_code_hash, forget_crew_code, keep_crew_code
from app.storage.database import keep_even_if_refused
from app.storage.sign_in_failures import (
    code_of,
    count_failure,
    failures_of,
    forget_failures,
    internet_address,
)


def set_crew_code(tx: Session, *, code: str, by: Person, now: datetime) -> None:
    """Every phone that knew another code is asked anew; the ledger never tells the code."""
    check_may(by, Deed.CHOOSE)
    plain = check_code(code)
    lock_policy(tx, by.agency_id)
    keep_crew_code(tx, code_hash=digest_of(plain), by=by, now=now)
    forget_failures(tx, code_of(by.agency))
    ledger.append(tx, agency=by.agency, did="set the crew code", by=by.username, at=now)


def remove_crew_code(tx: Session, *, by: Person, now: datetime) -> None:
    """The look-up is open again to everybody who knows its address."""
    check_may(by, Deed.CHOOSE)
    lock_policy(tx, by.agency_id)
    if crew_code_hash(tx, by.agency_id) is None:
        return
    forget_crew_code(tx, by.agency_id)
    ledger.append(tx, agency=by.agency, did="remove the crew code", by=by.username, at=now)


def enter_crew_code(
    tx: Session, *, agency: Agency, code: str, address: str, now: datetime
) -> str | None:
    """The pass that the phone carries from now on; None where no code is asked for."""
    found = crew_code_hash(tx, agency.id)
    if found is None:
        return None
    free = {code_of(agency.key): FREE_PER_CREW_CODE, internet_address(address): FREE_PER_ADDRESS}
    failures = failures_of(tx, list(free))
    waits = [failures[one].remaining(now, free=free[one]) for one in failures]
    longest = max(waits, default=timedelta())
    if longest > timedelta():
        seconds = math.ceil(longest.total_seconds())
        raise TooMany(f"Too many wrong codes. Try again in {seconds} s.", seconds=seconds)
    if not matches(plain_code(code), found):
        for subject in free:
            count_failure(tx, subject=subject, now=now)
        keep_even_if_refused(tx)
        raise Refused.because("this is not the crew code", column="code")
    return crew_pass(found)
