"""Where published sources disagree: what each calls low and high in one band of age.

The bands are those of the default outer bounds; every number comes from the sources' own tables.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil
from types import ModuleType

from app.domain.ages import BIRTH, Age, AgeSpan, days, hull, months
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import GRADES, OuterBounds
from app.domain.reference_ranges import (
    fleming_2011,
    flynn_2017,
    gemelli_1990,
    met_criteria,
    news2_2017,
    pals_2015,
    pews_england_2023,
    phoenix_2024,
)
from app.domain.reference_ranges.range_rows import RangeRow
from app.domain.reference_ranges.score_steps import ScoreSteps
from app.domain.vital_signs import VITAL_SIGNS

COMPARED = ("heart-rate", "respiratory-rate", "nibp-systolic")


@dataclass(frozen=True)
class Line:
    """One printed row: beyond `low` or `high` the source speaks up. `per_year` moves `low`."""

    vital_sign: str
    ages: AgeSpan
    low: Fraction | None
    high: Fraction | None
    per_year: Fraction = Fraction(0)

    def low_at(self, age: Age) -> Fraction | None:
        return None if self.low is None else self.low + self.per_year * age.years


@dataclass(frozen=True)
class Voice:
    """A source and what its two ends mean; None where it has no such end.

    `grade` says how the source was read, as on the shelf of published tables; None: not published.
    """

    name: str
    low_means: str | None
    high_means: str | None
    lines: tuple[Line, ...]
    citation: str = ""
    grade: str | None = None

    def of(self, vital_sign: str) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.vital_sign == vital_sign)


@dataclass(frozen=True)
class Reach:
    """The least and the greatest of several values."""

    least: Fraction
    most: Fraction

    def __str__(self) -> str:
        least, most = f"{float(self.least):g}", f"{float(self.most):g}"
        return least if least == most else f"{least}–{most}"


@dataclass(frozen=True)
class Claim:
    """What a source says within a band; `ages` is the part of the band that it speaks of."""

    low: Reach | None
    high: Reach | None
    ages: AgeSpan


@dataclass(frozen=True)
class Band:
    """One claim a voice, in the order of the voices; None where one is silent."""

    ages: AgeSpan
    claims: tuple[Claim | None, ...]

    @property
    def lows(self) -> Reach | None:
        return _reach(_ends(claim.low for claim in self.claims if claim))

    @property
    def highs(self) -> Reach | None:
        return _reach(_ends(claim.high for claim in self.claims if claim))


@dataclass(frozen=True)
class Disagreement:
    vital_sign: str
    voices: tuple[Voice, ...]
    bands: tuple[Band, ...]


def disagreement(vital_sign: str) -> Disagreement:
    """Only the voices that speak of this vital sign."""
    voices = tuple(voice for voice in VOICES if voice.of(vital_sign))
    bands = tuple(
        Band(span, tuple(_claim(voice.of(vital_sign), span) for voice in voices))
        for span in _spans()
    )
    return Disagreement(vital_sign, voices, bands)


def _spans() -> list[AgeSpan]:
    rows = [row for row in DEFAULT_BOUNDS.rows if row.quantity in COMPARED and row.when is None]
    edges = sorted({row.span.start for row in rows})
    ends: list[Age | None] = [*edges[1:], None]
    return [AgeSpan(start, end) for start, end in zip(edges, ends, strict=True)]


def _claim(lines: Iterable[Line], span: AgeSpan) -> Claim | None:
    here = [(line, shared) for line in lines if (shared := line.ages.meet(span)) is not None]
    if not here:
        return None
    lows = (low for line, shared in here for low in _lows(line, shared))
    highs = (line.high for line, _ in here if line.high is not None)
    return Claim(_reach(lows), _reach(highs), hull([shared for _, shared in here]))


def _lows(line: Line, ages: AgeSpan) -> Iterator[Fraction]:
    """At both ends of the ages, where the value moves between them."""
    if line.low is not None:
        yield line.low + line.per_year * ages.start.years
        if line.per_year:
            yield line.low + line.per_year * ages.stop.years


def _reach(values: Iterable[Fraction]) -> Reach | None:
    found = list(values)
    return Reach(min(found), max(found)) if found else None


def _ends(reaches: Iterable[Reach | None]) -> Iterator[Fraction]:
    for reach in reaches:
        if reach is not None:
            yield from (reach.least, reach.most)


def _healthy() -> Iterator[Line]:
    table = fleming_2011.TABLE
    first_day = AgeSpan(BIRTH, days(1))
    rows = [(row, row.span) for row in table.rows]
    rows += [(row, first_day) for row in table.at_birth.values()]
    for row, ages in rows:
        yield Line(row.vital_sign, ages, Fraction(row.values[0]), Fraction(row.values[-1]))


def _scores(table: Iterable[ScoreSteps], worst: int) -> Iterator[Line]:
    """The edges beyond which a value scores worst; below the first, from the last on."""
    for steps in table:
        if steps.when is None:
            low, high = (_on_step(steps.edges[end], steps.vital_sign) for end in (0, -1))
            yield Line(
                steps.vital_sign,
                steps.ages,
                low if steps.scores[0] == worst else None,
                high if steps.scores[-1] == worst else None,
            )


def _on_step(edge: float, vital_sign: str) -> Fraction:
    """The least value on the sign's step that an edge lets through."""
    step = Fraction(VITAL_SIGNS[vital_sign].step)
    return ceil(Fraction(str(edge)) / step) * step


def _ranges(rows: Iterable[RangeRow]) -> Iterator[Line]:
    for row in rows:
        low, high = _exact(row.low), _exact(row.high)
        yield Line(row.vital_sign, row.ages, low, high, Fraction(row.per_year))


def _exact(number: Decimal | None) -> Fraction | None:
    return None if number is None else Fraction(number)


def _normal() -> Iterator[Line]:
    """Asleep the rate may be lower, awake higher: the low end of one, the high end of the other."""
    for line, row in zip(_ranges(pals_2015.NORMAL_RANGES), pals_2015.NORMAL_RANGES, strict=True):
        low = None if row.when == "awake" else line.low
        high = None if row.when == "asleep" else line.high
        yield Line(line.vital_sign, line.ages, low, high)


def _screening() -> Iterator[Line]:
    for row in flynn_2017.TABLE:
        for pressures in (row.boys, row.girls):
            for sign, pressure in zip(("systolic", "diastolic"), pressures, strict=True):
                yield Line(f"nibp-{sign}", row.ages, None, Fraction(pressure))


def _infants() -> Iterator[Line]:
    """Two standard deviations about the mean; each month speaks until the next that is printed."""
    printed = sorted({row.months for row in gemelli_1990.TABLE})
    until = dict(zip(printed, [*printed[1:], 12], strict=True))
    for row in gemelli_1990.TABLE:
        ages = AgeSpan(months(row.months), months(until[row.months]))
        pairs = {
            "nibp-systolic": row.systolic,
            "nibp-diastolic": row.diastolic,
            "heart-rate": row.heart_rate,
        }
        for sign, (mean, spread) in pairs.items():
            yield Line(sign, ages, Fraction(mean - 2 * spread), Fraction(mean + 2 * spread))


def _bounds(bounds: OuterBounds, grade: str) -> Iterator[Line]:
    for row in bounds.rows:
        if row.grade == grade and row.when is None:
            low, high = (row.base, None) if row.side == "low" else (None, row.base)
            yield Line(row.quantity, row.span, low, high, row.per_year)


def voices_of_bounds(bounds: OuterBounds) -> tuple[Voice, ...]:
    """Caution, then danger."""
    name = "Default bound" if bounds == DEFAULT_BOUNDS else "Outer bound"
    return tuple(
        Voice(
            f"{name}, {grade}",
            f"{grade} below",
            f"{grade} above",
            tuple(_bounds(bounds, grade)),
            f"Outer bounds: {bounds.name}",
        )
        for grade in reversed(GRADES)
    )


def _published(
    module: ModuleType, name: str, means: tuple[str | None, str | None], lines: Iterable[Line]
) -> Voice:
    return Voice(name, *means, tuple(lines), module.SOURCE, module.GRADE)


PUBLISHED_VOICES = (
    _published(
        fleming_2011,
        "Healthy children (Fleming 2011)",
        ("1st centile", "99th centile"),
        _healthy(),
    ),
    _published(
        gemelli_1990,
        "Healthy infants (Gemelli 1990)",
        ("mean − 2 SD", "mean + 2 SD"),
        _infants(),
    ),
    _published(pals_2015, "PALS normal range", ("lowest, asleep", "highest, awake"), _normal()),
    _published(
        pals_2015, "PALS hypotension", ("hypotension below", None), _ranges(pals_2015.HYPOTENSION)
    ),
    _published(
        pews_england_2023,
        "National PEWS 2023",
        ("scores 4 below", "scores 4 from"),
        _scores(pews_england_2023.TABLE, 4),
    ),
    _published(
        news2_2017,
        "NEWS2 2017",
        ("scores 3 below", "scores 3 from"),
        _scores(news2_2017.TABLE, 3),
    ),
    _published(
        met_criteria,
        "Medical emergency team",
        ("called below", "called above"),
        _ranges((*met_criteria.DEVITA_2004, *met_criteria.BELLOMO_2003)),
    ),
    _published(
        phoenix_2024, "Phoenix 2024", ("scores 2 below", None), _scores(phoenix_2024.TABLE, 2)
    ),
    _published(flynn_2017, "Screening (Flynn 2017)", (None, "evaluate from"), _screening()),
)
VOICES = (*PUBLISHED_VOICES, *voices_of_bounds(DEFAULT_BOUNDS))
