"""A cohort that nobody is in: trends drawn from published centiles, for want of recordings.

Of a patient i with an age drawn evenly from the category, the normal score at time t is
z = sqrt(b) * u + sqrt(1 - b) * w(t), with u standard normal, once a patient, and w an
autoregressive process of the first order: w(t + s) = a * w(t) + sqrt(1 - a²) * e, a = exp(-s / T).
So every single value is distributed as the centiles of that age say, b is the share of the
variance that lies between patients, and the correlation within one decays to 1/e in T seconds.
Vital signs are drawn independently.

What is published are single readings of healthy children, one each: b, T and independence are
assumptions, and nobody in it is ill. It shows how noisy limits are among the healthy, and says
nothing about silence in the sick.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, sqrt
from statistics import NormalDist

import numpy as np

from app.domain.ages import Age, AgeSpan, days, hull
from app.domain.centiles import CentileCurve, CentileTable, References
from app.domain.errors import Refused
from app.domain.trends import Numbers, Trends
from app.domain.vital_signs import VITAL_SIGNS

SEED = 20260302
MOST_PATIENTS = 200
MOST_HOURS = 24
_SCORES = np.linspace(-6, 6, 241)
_NORMAL = NormalDist()


@dataclass(frozen=True)
class Assumed:
    """`between` is b, `memory_s` is T; nothing published says what they are."""

    patients: int = 40
    hours: int = 1
    step_s: int = 1
    between: float = 0.5
    memory_s: int = 300
    seed: int = SEED

    def words(self, ages: AgeSpan) -> str:
        return (
            f"SYNTHETIC: {self.patients} invented patients of {self.hours} h, aged {ages}, drawn "
            f"from published centiles of healthy people. Assumed: {self.between:.0%} of the "
            f"variance lies between patients, the correlation within one decays to 1/e "
            f"in {self.memory_s} s, vital signs are independent. Seed {self.seed}."
        )


@dataclass(frozen=True)
class Cohort:
    """`words` go wherever anything told from the trends goes."""

    trends: Trends
    words: str


def synthetic_cohort(ages: AgeSpan, references: References, assumed: Assumed) -> Cohort:
    """Raises Refused where nothing is published for the ages."""
    _check(assumed)
    dice = np.random.default_rng(assumed.seed)
    tables = _tables(ages, references)
    if not tables:
        raise Refused.because(
            "no centiles are published for these ages, so no cohort can be drawn", column="category"
        )
    known = _known(ages, tables)
    born = _ages(known, assumed.patients, dice)
    each = assumed.hours * 3600 // assumed.step_s
    trends = Trends(
        np.repeat(np.arange(assumed.patients), each),
        np.tile(np.arange(each) * assumed.step_s, assumed.patients),
        {
            vital: _values(table, vital, born, _scores(each, assumed, dice))
            for vital, table in tables.items()
        },
        assumed.step_s,
    )
    return Cohort(trends, assumed.words(known))


def _check(assumed: Assumed) -> None:
    if not 2 <= assumed.patients <= MOST_PATIENTS:
        raise Refused.because(f"choose 2 to {MOST_PATIENTS} patients", column="patients")
    if not 1 <= assumed.hours <= MOST_HOURS:
        raise Refused.because(f"choose 1 to {MOST_HOURS} hours", column="hours")


def _tables(ages: AgeSpan, references: References) -> Mapping[str, CentileTable]:
    """By the vital signs that a table holds under their own name at some of these ages."""
    found = {}
    for vital in VITAL_SIGNS:
        table = references.table_for(vital)
        if table is None or vital not in table.vital_signs:
            continue
        if any(row.span.meet(ages) for row in table.of(vital)):
            found[vital] = table
    return found


def _known(ages: AgeSpan, tables: Mapping[str, CentileTable]) -> AgeSpan:
    """Those of the ages at which every table has a row."""
    known = ages
    for vital, table in tables.items():
        spans = [span for row in table.of(vital) if (span := row.span.meet(ages))]
        known = known.meet(hull(spans)) or known
    return known


def _ages(known: AgeSpan, patients: int, dice: np.random.Generator) -> list[Age]:
    """Whole days, each as likely as another."""
    first = -(-known.start.days // 1)
    return [days(int(day)) for day in dice.integers(first, first + known.whole_days(), patients)]


def _scores(each: int, assumed: Assumed, dice: np.random.Generator) -> Numbers:
    """A row a sample, a column a patient."""
    a, b = exp(-assumed.step_s / assumed.memory_s), assumed.between
    fresh = dice.standard_normal((each, assumed.patients))
    within = np.empty_like(fresh)
    within[0] = fresh[0]
    for sample in range(1, each):
        within[sample] = a * within[sample - 1] + sqrt(1 - a * a) * fresh[sample]
    scores: Numbers = sqrt(b) * dice.standard_normal(assumed.patients) + sqrt(1 - b) * within
    return scores


def _values(table: CentileTable, vital: str, born: list[Age], scores: Numbers) -> Numbers:
    sign = VITAL_SIGNS[vital]
    columns = []
    for index, age in enumerate(born):
        row = table.at(vital, age)
        if row is None:
            raise RuntimeError("an age was drawn that the table does not hold")
        drawn = np.interp(scores[:, index], _SCORES, _along(row.curve))
        per_unit = float(1 / sign.step)
        steps = np.rint(np.clip(drawn, float(sign.least), float(sign.most)) * per_unit)
        columns.append(steps / per_unit)
    return np.concatenate(columns)


def _along(curve: CentileCurve) -> Numbers:
    """The value at each score of a fine ladder."""
    return np.array([curve.value_at(100 * _NORMAL.cdf(float(score))) for score in _SCORES])
