"""Weight for age by the LMS method (Cole and Green, Stat Med 1992;11:1305-19)."""

import math
from dataclasses import dataclass
from statistics import NormalDist


@dataclass(frozen=True)
class WeightRow:
    """`months` completed; `power` is L, `median` M in kg, `spread` S."""

    sex: str
    months: int
    power: float
    median: float
    spread: float

    def weight_at(self, centile: float) -> float:
        """Kilograms at a centile in percent."""
        score = NormalDist().inv_cdf(centile / 100)
        if self.power == 0:
            return self.median * math.exp(self.spread * score)
        grown: float = (1 + self.power * self.spread * score) ** (1 / self.power)
        return self.median * grown

    def score_of(self, weight: float) -> float:
        """The normal score of a weight in kilograms."""
        if self.power == 0:
            return math.log(weight / self.median) / self.spread
        grown: float = (weight / self.median) ** self.power
        return (grown - 1) / (self.power * self.spread)
