"""The effect of a change in words: what falls silent or is heard again, and who sounds at once."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.domain.ages import AgeSpan
from app.domain.alarm_conditions import limits_of
from app.domain.redline_effects import Held, VitalEffect
from app.domain.redline_silence import dangers, joined, newly_silent
from app.domain.redline_words import at_ages, gap_words
from app.domain.rules.rule import in_words
from app.domain.silence import Silence
from app.domain.vital_signs import VitalSign

UNKNOWN = (
    "No centiles are published for these ages, so how many healthy people would sound on arrival "
    "is not known."
)


@dataclass(frozen=True)
class EffectWords:
    """`before` and `after`: every silent stretch of danger, and of caution where it changes."""

    name: str
    ages: str
    silence: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    arrival: str


def in_words_of(effect: VitalEffect) -> EffectWords:
    return EffectWords(
        name=_name(effect.vitals),
        ages=in_words([_lower(at_ages(span)) for span in effect.ages]),
        silence=_silence(effect),
        before=tuple(_stretches(effect.vital, effect.before, effect.after)),
        after=tuple(_stretches(effect.vital, effect.after, effect.before)),
        arrival=_arrival(effect),
    )


def _name(vitals: tuple[VitalSign, ...]) -> str:
    first, *rest = [vital.label for vital in vitals]
    return in_words([first, *map(_lower, rest)])


def _lower(text: str) -> str:
    """IBP stays IBP."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _silence(effect: VitalEffect) -> str:
    was, now = dangers(effect.before.silent), dangers(effect.after.silent)
    opened, closed = joined(newly_silent(was, now)), joined(newly_silent(now, was))
    told = []
    if opened:
        told.append(f"Danger passes unannounced at {_at(opened)} that sounded before.")
    if closed:
        told.append(f"Danger sounds at {_at(closed)} that passed unannounced before.")
    if told:
        return " ".join(told)
    return (
        "What of danger passes unannounced stays as it was."
        if now
        else ("No danger passes unannounced, before or after.")
    )


def _at(found: Iterable[Silence]) -> str:
    spans: list[AgeSpan] = list(dict.fromkeys(silence.ages for silence in found))
    return in_words([_lower(at_ages(span)) for span in spans])


def _stretches(vital: VitalSign, held: Held, other: Held) -> Iterator[str]:
    low, high = limits_of(vital.key)
    for silence in held.silent:
        if silence.bound.grade == "danger" or silence not in other.silent:
            yield gap_words(silence, low if silence.side == "low" else high)


def _arrival(effect: VitalEffect) -> str:
    was, now = effect.before.arrival, effect.after.arrival
    known = was or now
    if known is None:
        return UNKNOWN
    if was is None or now is None:
        return (
            f"Only {'before' if was else 'after'} does a category hold ages with published "
            f"centiles: {percent(known.mean)} of healthy people would sound on arrival, at worst "
            f"{percent(known.worst)} at {known.worst_age}."
        )
    return (
        f"Of healthy people of these ages, {percent(now.mean)} would sound on arrival; "
        f"before, {percent(was.mean)}. At worst {percent(now.worst)} at {now.worst_age}; "
        f"before, {percent(was.worst)} at {was.worst_age}."
    )


def percent(share: float) -> str:
    if 0 < share < 0.0005:
        return "under 0.1%"
    return "0%" if share <= 0 else f"{share:.1%}"
