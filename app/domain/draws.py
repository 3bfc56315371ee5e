"""Which devices to read for a sample: a draw that anybody can make again.

Each tag is hashed with the seed, SHA-256 of `seed`, a line feed and the tag, and the smallest
digests are drawn. Whoever has the list and the seed gets the same devices with any tool that
hashes. The list's fingerprint shows that no device was left off it after the seed was known.
"""

import hashlib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from math import comb

from app.domain.errors import Refused
from app.domain.intervals import at_most
from app.domain.sampling import plan_sample

CENSUS_UP_TO = 30
"""Below about forty devices a sample that says anything is nearly all of them: read them all."""


class Strata(StrEnum):
    NONE = "none"
    STATION = "station"
    MODEL = "model"

    @property
    def words(self) -> str:
        return "the whole list" if self is Strata.NONE else f"each {self.value}"


@dataclass(frozen=True)
class Listed:
    """A device that could be drawn; `stratum` is empty where the list is not divided."""

    tag: str
    stratum: str = ""


@dataclass(frozen=True)
class Draw:
    listed: tuple[Listed, ...]
    chosen: tuple[str, ...]
    seed: str
    fingerprint: str

    @property
    def census(self) -> bool:
        return len(self.chosen) == len(self.listed)

    @property
    def lines(self) -> str:
        """What the fingerprint is of."""
        return lines_of(self.listed)

    def strata(self) -> dict[str, tuple[int, int]]:
        """Of each stratum: how many are listed, how many were drawn."""
        chosen = set(self.chosen)
        counts: dict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
        for one in self.listed:
            listed, drawn = counts[one.stratum]
            counts[one.stratum] = (listed + 1, drawn + (one.tag in chosen))
        return dict(sorted(counts.items()))


@dataclass(frozen=True)
class StoredDraw:
    number: int
    drawn_at: datetime
    drawn_by: str
    purpose: str
    strata: Strata
    confidence: Fraction
    draw: Draw


def size_for(fleet: int, *, tolerate: Fraction, confidence: Fraction) -> int:
    """Everything up to `CENSUS_UP_TO`; above that as few as bear the statement."""
    if fleet <= CENSUS_UP_TO:
        return fleet
    return plan_sample(fleet, tolerate, confidence).sample


def draw(listed: Sequence[Listed], *, size: int, seed: str) -> Draw:
    """From each stratum in proportion, at least one from each if `size` allows."""
    ordered = tuple(sorted(listed, key=lambda one: one.tag))
    if not 1 <= size <= len(ordered):
        raise Refused.because(f"draw 1 to {len(ordered)} devices", column="size", value=size)
    if len({one.tag for one in ordered}) < len(ordered):
        raise ValueError("a device stands twice on the list")
    by_stratum: dict[str, list[str]] = defaultdict(list)
    for one in ordered:
        by_stratum[one.stratum].append(one.tag)
    shares = allocate({name: len(tags) for name, tags in by_stratum.items()}, size)
    chosen = [
        tag
        for name, tags in by_stratum.items()
        for tag in sorted(tags, key=lambda tag: _lot(seed, tag))[: shares[name]]
    ]
    return Draw(ordered, tuple(sorted(chosen)), seed, fingerprint_of(ordered))


def allocate(strata: Mapping[str, int], size: int) -> dict[str, int]:
    """By largest remainder; a small stratum gets one before a large one gets another."""
    least = 1 if size >= len(strata) else 0
    exact = {name: Fraction(size * count, sum(strata.values())) for name, count in strata.items()}
    given = {name: max(least, int(share)) for name, share in exact.items()}
    while (left := size - sum(given.values())) != 0:
        step = 1 if left > 0 else -1
        open_to = [name for name in strata if least <= given[name] + step <= strata[name]]
        most = max(open_to, key=lambda name: (step * (exact[name] - given[name]), name))
        given[most] += step
    return given


def fingerprint_of(listed: Sequence[Listed]) -> str:
    return hashlib.sha256(lines_of(listed).encode()).hexdigest()


def lines_of(listed: Sequence[Listed]) -> str:
    """One line a device, `tag`, a tab and `stratum`, in order."""
    return "".join(sorted(f"{one.tag}\t{one.stratum}\n" for one in listed))


def _lot(seed: str, tag: str) -> str:
    return hashlib.sha256(f"{seed}\n{tag}".encode()).hexdigest()


@dataclass(frozen=True)
class Statement:
    """What reading the drawn devices says of the whole list; `most_off` counts all of it."""

    fleet: int
    drawn: int
    read: int
    off: int
    confidence: Fraction
    most_off: int | None
    method: str

    @property
    def words(self) -> str:
        found = "none off" if self.off == 0 else f"{self.off} off"
        if self.most_off is None:
            return (
                f"{self.read} of {self.drawn} drawn devices read, {found} so far. "
                f"Nothing can be said of the whole list before all {self.drawn} are read."
            )
        if self.drawn == self.fleet:
            return f"All {self.fleet} devices read, {found}. This is a count, no estimate."
        percent = float(self.confidence * 100)
        return (
            f"{self.read} of {self.fleet} devices read, {found}: "
            f"with {percent:g} % confidence at most {self.most_off} of all {self.fleet}."
        )


def statement(drawn: Draw, *, read: Mapping[str, bool], confidence: Fraction) -> Statement:
    """`read`: of each drawn device that was read, whether it was off.

    Exact for a plain draw. For a divided one the worst way in which those off could lie among
    the strata; where any was found, a bound for each stratum, with the doubt shared among them.
    """
    seen = {tag: off for tag, off in read.items() if tag in drawn.chosen}
    off = sum(seen.values())
    fleet, size = len(drawn.listed), len(drawn.chosen)
    if len(seen) < size:
        return Statement(fleet, size, len(seen), off, confidence, None, "")
    most, method = _most_off(drawn, seen, confidence)
    return Statement(fleet, size, size, off, confidence, most, method)


def _most_off(drawn: Draw, off: Mapping[str, bool], confidence: Fraction) -> tuple[int, str]:
    strata = list(drawn.strata().values())
    if drawn.census:
        return sum(off.values()), "count"
    if len(strata) == 1:
        [(fleet, read)] = strata
        return at_most(sum(off.values()), read, fleet, float(confidence)), "hypergeometric"
    if not any(off.values()):
        return _worst_unseen(strata, 1 - confidence), "hypergeometric, worst case over the strata"
    where = {one.tag: one.stratum for one in drawn.listed}
    found: dict[str, int] = defaultdict(int)
    for tag, is_off in off.items():
        found[where[tag]] += is_off
    shared = float(1 - (1 - confidence) / len(strata))
    most = sum(
        at_most(found[name], read, fleet, shared) if read else fleet
        for name, (fleet, read) in drawn.strata().items()
    )
    return most, "hypergeometric in each stratum, doubt shared"


def _worst_unseen(strata: Sequence[tuple[int, int]], doubt: Fraction) -> int:
    """The most devices off that a draw showing none still leaves likelier than `doubt`.

    `chance[d]` is the greatest chance to miss d of them, over all ways to lie among the strata
    taken in so far.
    """
    chance = [Fraction(1)]
    for fleet, read in strata:
        misses = [Fraction(comb(fleet - d, read), comb(fleet, read)) for d in range(fleet + 1)]
        merged = [Fraction(0)] * (len(chance) + fleet)
        for before, likely in enumerate(chance):
            for more, miss in enumerate(misses):
                if miss == 0 or likely == 0:
                    break
                merged[before + more] = max(merged[before + more], likely * miss)
        chance = _trimmed(merged, doubt)
    return max(d for d, likely in enumerate(chance) if likely > doubt)


def _trimmed(chance: list[Fraction], doubt: Fraction) -> list[Fraction]:
    """More of them are never likelier missed: what is too unlikely now stays so."""
    last = max(d for d, likely in enumerate(chance) if likely > doubt)
    return chance[: last + 1]
