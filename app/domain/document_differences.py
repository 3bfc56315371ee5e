"""Where two documents of one policy differ, part by part, for whoever must choose."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Difference:
    """`part` names the place, such as settings / infant / asystole; None: nothing stands there."""

    part: str
    theirs: str | None
    yours: str | None


def differences(theirs: Mapping[str, Any], yours: Mapping[str, Any]) -> tuple[Difference, ...]:
    return tuple(_between(theirs, yours, ()))


_ABSENT = object()


def _between(theirs: Any, yours: Any, place: tuple[str, ...]) -> Iterator[Difference]:
    theirs, yours = _by_key(theirs), _by_key(yours)
    if isinstance(theirs, Mapping) and isinstance(yours, Mapping):
        for name in dict.fromkeys((*theirs, *yours)):
            one, other = theirs.get(name, _ABSENT), yours.get(name, _ABSENT)
            yield from _between(one, other, (*place, str(name)))
    elif theirs != yours:
        yield Difference(" / ".join(place), _shown(theirs), _shown(yours))


def _by_key(value: Any) -> Any:
    """A list of things with keys, such as the categories, is compared key by key."""
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        keyed = {one.get("key"): one for one in value}
        if None not in keyed and len(keyed) == len(value):
            return keyed
    return value


def _shown(value: Any) -> str | None:
    if value is _ABSENT:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    return json.dumps(value, ensure_ascii=False)
