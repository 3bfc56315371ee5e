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
        return Deviation(key, option, found, Direction.UNREAD, Severity.NOTE)
    if _same(option, found):
        return None
    return Deviation(key, option, found, Direction.OTHER, Severity.OFF_PROTOCOL)


def _same(option: Option, found: Reading) -> bool:
    signed = option.value
    if isinstance(found, FoundText):
        return found.text.casefold() in _words(option)
    if isinstance(found, FoundOn) and found.limit is not None:
        return not isinstance(signed, bool) and _number(signed) == found.limit
    if isinstance(signed, bool):
        return (found.state == "on") is signed
    return str(signed) == found.state


def _words(option: Option) -> tuple[str, ...]:
    """A switch is signed as true or false and read as on or off."""
    if isinstance(option.value, bool):
        return ("true", "on") if option.value else ("false", "off")
    return (str(option.value).casefold(),)


def _number(value: Decimal | str) -> Decimal | None:
    try:
        return Decimal(value)
    except InvalidOperation:
        return None
