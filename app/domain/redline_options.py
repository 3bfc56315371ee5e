"""Options that differ: settings that are no alarm, and which way each is looser."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from app.domain.comparison import Direction
from app.domain.options import OPTIONS, OptionKind, OptionValue, breach
from app.domain.profiles import Option, Profile
from app.domain.settings_of_alarms import show_number
from app.domain.written_limits import shown_unit

# Toward fewer, later or fainter alarms; the others are neither. A word stands at the loosest end.
_LOOSER_UP = frozenset({"longest-pause-s", "reminder-s", "nibp-interval-min", "spo2-averaging-s"})
_LOOSER_DOWN = frozenset({"audio-volume", "all-alarms-on-at-start"})
_MEANS = {
    "audio-volume": "The volume of alarms is {now} instead of {was}.",
    "longest-pause-s": "The longest pause, in which no alarm sounds, is {now} instead of {was}.",
    "reminder-s": "The reminder of a silenced alarm is {now} instead of {was}.",
    "nibp-interval-min": "The time between two pressures is {now} instead of {was}.",
    "spo2-averaging-s": "SpO₂ is averaged over {now} instead of {was}: shorter dips pass.",
}


@dataclass(frozen=True)
class OptionChange:
    """`before` or `after` None: the policy says nothing of it. `breach`: what it silences."""

    key: str
    label: str
    before: Option | None
    after: Option | None
    direction: Direction
    words_only: bool
    sentence: str
    breach: str | None

    @property
    def values(self) -> tuple[str, str]:
        return shown_option(self.key, self.before), shown_option(self.key, self.after)


def option_changes(before: Profile, after: Profile) -> Iterator[OptionChange]:
    for key in dict.fromkeys((*OPTIONS, *before.options, *after.options)):
        was, now = before.options.get(key), after.options.get(key)
        if was != now:
            yield _change(key, was, now)


def _change(key: str, was: Option | None, now: Option | None) -> OptionChange:
    kind = OPTIONS.get(key, OptionKind(key, key, "word"))
    words_only = was is not None and now is not None and was.value == now.value
    silenced = None if now is None or words_only else breach(key, now.value)
    return OptionChange(
        key=key,
        label=kind.label,
        before=was,
        after=now,
        direction=_direction(key, was, now),
        words_only=words_only,
        sentence=_sentence(kind, was, now, words_only=words_only),
        breach=silenced,
    )


def _direction(key: str, was: Option | None, now: Option | None) -> Direction:
    if was is None or now is None:
        return Direction.OTHER
    further = _place(now.value) - _place(was.value)
    if key in _LOOSER_DOWN:
        further = _loudness(was.value) - _loudness(now.value)
    elif key not in _LOOSER_UP:
        return Direction.OTHER
    if not further:
        return Direction.OTHER
    return Direction.LOOSER if further > 0 else Direction.TIGHTER


_FURTHEST = Decimal(10) ** 9


def _place(value: OptionValue) -> Decimal:
    """Permanent, manual and off lie beyond every number."""
    return value if isinstance(value, Decimal) else _FURTHEST


def _loudness(value: OptionValue) -> Decimal:
    if isinstance(value, bool):
        return Decimal(value)
    return value if isinstance(value, Decimal) else Decimal(-1)


def _sentence(kind: OptionKind, was: Option | None, now: Option | None, *, words_only: bool) -> str:
    before, after = shown_option(kind.key, was), shown_option(kind.key, now)
    if words_only:
        return f"{kind.label} stays {after}; only its words change."
    if was is None:
        return f"{kind.label} is set to {after}; nothing was said of it."
    if now is None:
        return f"Nothing is said of {kind.label} any more; it was {before}."
    if kind.key == "all-alarms-on-at-start":
        return (
            "All alarms are on when a patient is connected."
            if now.value is True
            else "Alarms can be off when a patient is connected."
        )
    told = _MEANS.get(kind.key, "{label} is {now} instead of {was}.")
    return told.format(label=kind.label, now=after, was=before)


def shown_option(key: str, option: Option | None) -> str:
    if option is None:
        return "nothing"
    value, kind = option.value, OPTIONS.get(key)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{show_number(value)} {kind.unit if kind else ''}".strip()
    return shown_unit(value)
