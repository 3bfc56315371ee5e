"""Options, the settings that are no alarm: what was found against what was signed."""

from decimal import Decimal, InvalidOperation

from app.domain.comparison import Deviation, Direction
from app.domain.device_reports import CouldNotRead, FoundOn, FoundText, NotRead, Reading
from app.domain.findings import Severity
from app.domain.profiles import Option


def compare_option(key: str, option: Option | None, found: Reading) -> Deviation | None:
    """None where it conforms or the policy says nothing of this option."""
    if option is None or isinstance(found, NotRead):
        return None
    if isinstance(found, CouldNotRead):
        return Deviation(key, None, found, Direction.UNREAD, Severity.NOTE)
    if _same(option, found):
        return None
    return Deviation(key, None, found, Direction.OTHER, Severity.OFF_PROTOCOL)


def _same(option: Option, found: Reading) -> bool:
    signed = option.value
    if isinstance(found, FoundText):
        return str(signed).casefold() == found.text.casefold()
    if isinstance(signed, bool):
        return (found.state == "on") is signed
    if isinstance(found, FoundOn) and found.limit is not None:
        return _number(signed) == found.limit
    return str(signed) == found.state


def _number(value: Decimal | str) -> Decimal | None:
    try:
        return Decimal(value)
    except InvalidOperation:
        return None
