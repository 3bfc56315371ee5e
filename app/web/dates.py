"""Days as a browser's date field sends them."""

from datetime import date

from app.domain.devices import Loan
from app.domain.errors import Refused


def typed_day(typed: str, *, column: str) -> date | None:
    """None where nothing was typed."""
    text = typed.strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused.because("write a day as 2026-03-01", column=column, value=text) from None


def typed_loan(owner: str, since: str, until: str) -> Loan | None:
    """None where no owner is named: the device is our own."""
    if not owner.strip():
        return None
    came = typed_day(since, column="loan_from")
    if came is None:
        raise Refused.because("write the day on which it came", column="loan_from")
    return Loan(owner, came, typed_day(until, column="loan_until"))
