"""Circumstances that came, went or hold for others, and what they change at which age."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.profiles import Circumstance, Profile
from app.domain.redline_ages import Piece, View, stated_by


@dataclass(frozen=True)
class CircumstanceChange:
    """One that is new, gone, relabelled or offered at other ages; `sentence` says which."""

    key: str
    before: Circumstance | None
    after: Circumstance | None
    sentence: str


@dataclass(frozen=True)
class Overlay:
    """One circumstance on either side, and the alarms and ages in which it has a say."""

    label: str
    before: View
    after: View
    alarms: frozenset[str]
    pieces: tuple[Piece, ...]


def overlays(before: Profile, after: Profile, pieces: list[Piece]) -> Iterator[Overlay]:
    stated = stated_by(before, after)
    for old, new in _pairs(before, after):
        views = View(before, old, stated), View(after, new, stated)
        held = [piece for piece in pieces if _is_offered(views, piece)]
        named = {*(old.settings if old else ()), *(new.settings if new else ())}
        label = (new or old).label  # type: ignore[union-attr]
        yield Overlay(label, *views, frozenset(named & ALARM_CONDITIONS.keys()), tuple(held))


def _is_offered(views: tuple[View, View], piece: Piece) -> bool:
    return views[0].offers(piece.before) or views[1].offers(piece.after)


def _pairs(
    before: Profile, after: Profile
) -> Iterator[tuple[Circumstance | None, Circumstance | None]]:
    old = {one.key: one for one in before.circumstances}
    new = {one.key: one for one in after.circumstances}
    for key in dict.fromkeys((*new, *old)):
        yield old.get(key), new.get(key)


def circumstance_changes(before: Profile, after: Profile) -> Iterator[CircumstanceChange]:
    for old, new in _pairs(before, after):
        if new is None and old is not None:
            who = _who(before, old)
            yield CircumstanceChange(
                old.key, old, None, f"{old.label} can no longer be chosen; it was, for {who}."
            )
        elif old is None and new is not None:
            yield CircumstanceChange(
                new.key, None, new, f"{new.label} can be chosen for {_who(after, new)}; it is new."
            )
        elif old is not None and new is not None and _moved(old, new):
            yield CircumstanceChange(new.key, old, new, _other(before, after, old, new))


def _moved(old: Circumstance, new: Circumstance) -> bool:
    return old.label != new.label or set(old.applies_to) != set(new.applies_to)


def _other(before: Profile, after: Profile, old: Circumstance, new: Circumstance) -> str:
    if set(old.applies_to) == set(new.applies_to):
        return f"{new.label} was called {old.label}."
    return f"{new.label} can be chosen for {_who(after, new)} instead of {_who(before, old)}."


def _who(profile: Profile, circumstance: Circumstance) -> str:
    labels = [one.label for one in profile.categories if one.key in circumstance.applies_to]
    return ", ".join(labels) or "nobody"
