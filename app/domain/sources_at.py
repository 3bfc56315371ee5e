"""What each source calls low and high at one age, and how far they lie apart."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from app.domain.ages import Age
from app.domain.disagreement import Reach
from app.domain.outer_bounds import OuterBounds
from app.domain.source_lines import LetteredVoice, lettered_voices
from app.domain.vital_signs import VITAL_SIGNS, VitalSign, judged_as


@dataclass(frozen=True)
class Said:
    """None where the source says nothing of that end at this age."""

    by: LetteredVoice
    low: Reach | None
    high: Reach | None


@dataclass(frozen=True)
class SourcesAt:
    """`vitals` are those for which the same is printed."""

    vitals: tuple[VitalSign, ...]
    said: tuple[Said, ...]

    @property
    def label(self) -> str:
        return ", ".join(vital.label for vital in self.vitals)

    @property
    def shown(self) -> str:
        return self.vitals[0].shown

    @property
    def words(self) -> str:
        """the lows differ by up to 28 /min, from 60 to 88; the highs …"""
        ends = {"low": [s.low for s in self.said], "high": [s.high for s in self.said]}
        told = [_apart(f"{name}s", reaches, self.shown) for name, reaches in ends.items()]
        return "; ".join(filter(None, told)) or "no two sources speak of the same end"


def _apart(name: str, reaches: Iterable[Reach | None], unit: str) -> str:
    """Empty where fewer than two sources speak."""
    found = [reach for reach in reaches if reach is not None]
    if len(found) < 2:
        return ""
    reach = Reach(min(r.least for r in found), max(r.most for r in found))
    if reach.least == reach.most:
        return f"all {name} are {reach} {unit}"
    apart = f"{float(reach.most - reach.least):g}"
    return f"the {name} differ by up to {apart} {unit}, from {_ends(reach)}"


def _ends(reach: Reach) -> str:
    return f"{float(reach.least):g} to {float(reach.most):g}"


def sources_at(vital_signs: Iterable[str], age: Age, bounds: OuterBounds) -> list[SourcesAt]:
    """One entry for signs that repeat each other; none for a sign of which no source speaks."""
    together: dict[str, list[VitalSign]] = {}
    for key in vital_signs:
        together.setdefault(judged_as(key), []).append(VITAL_SIGNS[key])
    found = (
        SourcesAt(tuple(vitals), tuple(_said(judged, age, bounds)))
        for judged, vitals in together.items()
    )
    return [one for one in found if one.said]


def _said(vital_sign: str, age: Age, bounds: OuterBounds) -> Iterator[Said]:
    for one in lettered_voices(bounds):
        here = [line for line in one.voice.of(vital_sign) if age in line.ages]
        low = _reach(line.low_at(age) for line in here)
        high = _reach(line.high for line in here)
        if low or high:
            yield Said(one, low, high)


def _reach(values: Iterable[Fraction | None]) -> Reach | None:
    found = [value for value in values if value is not None]
    return Reach(min(found), max(found)) if found else None
