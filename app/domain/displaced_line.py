"""One limit drawn twice, signed and found, on a short stretch of its own scale."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

WIDTH = 240.0
_CLEAR = 6  # a sixth of the width stays free on both sides, so that a label finds room


@dataclass(frozen=True)
class DisplacedLine:
    """`gap_x` and `gap_width`: the values between the two, silent if looser and noisy if not."""

    signed: Decimal
    found: Decimal
    signed_x: float
    found_x: float
    kind: Literal["silent", "noisy"]

    @property
    def gap_x(self) -> float:
        return min(self.signed_x, self.found_x)

    @property
    def gap_width(self) -> float:
        return abs(self.signed_x - self.found_x)


def displaced_line(
    signed: Decimal, found: Decimal, *, looser: bool, reach: Decimal
) -> DisplacedLine | None:
    """`reach` is the plausible range of the quantity; None where the two are equal.

    The stretch is at least a third of the reach wide, so that a small slip looks small.
    """
    if signed == found:
        return None
    apart = abs(signed - found)
    clear = WIDTH / _CLEAR
    stretch = max(apart, reach / 3)
    middle = (signed + found) / 2
    scale = (WIDTH - 2 * clear) / float(stretch)

    def x(value: Decimal) -> float:
        return round(WIDTH / 2 + float(value - middle) * scale, 1)

    return DisplacedLine(signed, found, x(signed), x(found), "silent" if looser else "noisy")
