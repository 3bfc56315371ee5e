"""How many devices to read so that finding none off says something about the rest."""

import re
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, comb

from app.domain.errors import Refused

LARGEST_FLEET = 1_000_000
_SHARE = re.compile(r"(\d{1,3}(?:\.\d{1,6})?)\s*(%?)", re.ASCII)


@dataclass(frozen=True)
class SamplePlan:
    """`miss_probability` is exact: the chance to see none off although D of the fleet are."""

    fleet: int
    tolerate: Fraction
    confidence: Fraction
    sample: int
    miss_probability: Fraction


def parse_share(text: str, *, column: str) -> Fraction:
    """`10%` or `0.1`, exact."""
    found = _SHARE.fullmatch(text.strip())
    if found is None:
        raise Refused.because("must be a share such as 10% or 0.1", column=column, value=text)
    return Fraction(found[1]) / (100 if found[2] else 1)


def plan_sample(fleet: int, tolerate: Fraction, confidence: Fraction) -> SamplePlan:
    """The fewest devices to read, none found off, with D = ceil(fleet × tolerate) exactly."""
    _check(fleet, tolerate, confidence)
    off = ceil(fleet * tolerate)
    sample = _fewest(fleet, off, 1 - confidence)
    misses, draws = _ways(fleet, off, sample)
    return SamplePlan(fleet, tolerate, confidence, sample, Fraction(misses, draws))


def _fewest(fleet: int, off: int, doubt: Fraction) -> int:
    """The chance to miss them all falls with every device more: double, then halve the search."""
    certain = fleet - off + 1  # one more than all that are right
    if doubt == 0:
        return certain
    high = 1
    while not _is_enough(fleet, off, high, doubt):
        high = min(2 * high, certain)
    low = high // 2
    while low < high:
        middle = (low + high) // 2
        if _is_enough(fleet, off, middle, doubt):
            high = middle
        else:
            low = middle + 1
    return low


def _is_enough(fleet: int, off: int, read: int, doubt: Fraction) -> bool:
    """In whole numbers, so that nothing is rounded at the border."""
    misses, draws = _ways(fleet, off, read)
    return misses * doubt.denominator <= draws * doubt.numerator


def _ways(fleet: int, off: int, read: int) -> tuple[int, int]:
    """Hypergeometric: (draws that show none of those off, all draws), or in that proportion."""
    if off + read > fleet:
        return 0, 1
    few, many = sorted((off, read))  # the two play the same part; the smaller is quicker
    return comb(fleet - many, few), comb(fleet, few)


def _check(fleet: int, tolerate: Fraction, confidence: Fraction) -> None:
    if not 1 <= fleet <= LARGEST_FLEET:
        reason = f"must be from 1 to {LARGEST_FLEET:,} devices"
        raise Refused.because(reason, column="--fleet", value=fleet)
    for column, share in (("--tolerate", tolerate), ("--confidence", confidence)):
        if not 0 < share <= 1:
            reason = "must lie above 0 and at most at 100%"
            raise Refused.because(reason, column=column, value=float(share))
