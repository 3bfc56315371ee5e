"""A setting as plain values: all that a device would do, and not why it should."""

from dataclasses import fields, is_dataclass
from decimal import Decimal

from app.domain.settings_of_alarms import Setting, as_number

_WHY = frozenset({"reason", "source"})


def stated(setting: Setting) -> dict[str, object]:
    """Reason and source left out; a part that nothing is said of is left out as well."""
    return {"state": setting.state, **_parts(setting)}


def _parts(part: object) -> dict[str, object]:
    if not is_dataclass(part):
        return {}
    held = {one.name: getattr(part, one.name) for one in fields(part) if one.name not in _WHY}
    return {name: _plain(value) for name, value in held.items() if value is not None}


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return as_number(value)
    return _parts(value) if is_dataclass(value) else value
