"""An option as people read it, signed or found."""

from app.domain.device_reports import CouldNotRead, FoundOn, FoundText, Reading
from app.domain.options import OPTIONS
from app.domain.profiles import Option
from app.domain.settings_of_alarms import Setting, show_number
from app.domain.written_limits import shown_unit


def option_words(key: str, held: Option | Setting | Reading | None) -> str:
    if held is None:
        return "no policy"
    if isinstance(held, Option):
        return _value(key, held)
    if isinstance(held, CouldNotRead):
        return f"could not read: {held.why}"
    if isinstance(held, FoundText):
        return shown_unit(held.text)
    if isinstance(held, FoundOn) and held.limit is not None:
        return f"{show_number(held.limit)} {OPTIONS[key].unit}".strip()
    return held.state.replace("-", " ")


def _value(key: str, option: Option) -> str:
    if isinstance(option.value, bool):
        return "on" if option.value else "off"
    if isinstance(option.value, str):
        return shown_unit(option.value)
    return f"{show_number(option.value)} {OPTIONS[key].unit}".strip()
