"""Every published source that is held here, as a table for people to read."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from types import ModuleType

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.reference_ranges import (
    apnoea,
    cdc_weight,
    fleming_2011,
    flynn_2017,
    gemelli_1990,
    kipps_2017,
    met_criteria,
    newborn_spo2,
    news2_2017,
    pals_2015,
    pews_england_2023,
    phoenix_2024,
    who_weight,
)
from app.domain.reference_ranges.newborn_spo2 import MinuteRow
from app.domain.reference_ranges.range_rows import RangeRow
from app.domain.reference_ranges.score_steps import ScoreSteps
from app.domain.settings_of_alarms import show_number
from app.domain.vital_signs import VITAL_SIGNS

Cells = tuple[str, ...]
GRADES = {
    "P": "the primary text",
    "S": "a secondary copy",
    "M": "from memory",
    "J": "judgement",
}


@dataclass(frozen=True)
class PublishedTable:
    """`module` holds the numbers; every row has a cell for every word of the head."""

    module: str
    name: str
    citation: str
    grade: str
    used_for: str
    head: Cells
    rows: tuple[Cells, ...]

    @property
    def read_as(self) -> str:
        return GRADES[self.grade]


def _table(
    module: ModuleType, name: str, used_for: str, head: Cells, rows: Iterable[Cells]
) -> PublishedTable:
    citation, grade = module.SOURCE, module.GRADE
    key = module.__name__.rpartition(".")[2]
    return PublishedTable(key, name, citation, grade, used_for, head, tuple(rows))


def _label(quantity: str) -> str:
    return (VITAL_SIGNS.get(quantity) or ALARM_CONDITIONS[quantity]).label


def _plain(number: float | None) -> str:
    return "" if number is None else f"{number:g}"


def _range(row: RangeRow) -> Cells:
    low = "" if row.low is None else show_number(row.low)
    if row.per_year:
        low += f" + {show_number(row.per_year)} a year of age"
    high = "" if row.high is None else show_number(row.high)
    return (_label(row.vital_sign), row.group, row.when or "", low, high)


def _steps(steps: ScoreSteps) -> Cells:
    """`below 80: 4 · 80: 2 · …`: each score from its edge on."""
    told = (
        f"{'below ' + _plain(end) if start is None else 'from ' + _plain(start)}: {score}"
        for start, end, score in steps.bands()
    )
    who = f"{steps.ages}{', ' + steps.when.replace('-', ' ') if steps.when else ''}"
    return (_label(steps.vital_sign), who, " · ".join(told))


def _minute(source: str) -> Callable[[MinuteRow], Cells]:
    return lambda row: (source, f"{row.minute}", f"{row.low}", _plain(row.high))


def _centiles() -> Iterable[Cells]:
    table = fleming_2011.TABLE
    for row in (*table.at_birth.values(), *table.rows):
        yield (_label(row.vital_sign), row.band, *(_plain(value) for value in row.values))


def _gemelli() -> Iterable[Cells]:
    for row in gemelli_1990.TABLE:
        pairs = (row.systolic, row.diastolic, row.heart_rate)
        yield (row.sex, f"{row.months} mo", *(f"{mean} ± {spread}" for mean, spread in pairs))


def _weights() -> Iterable[Cells]:
    """The median of each sex: L and S say the rest, and are no reading matter."""
    boys, girls = (
        {row.months: row.median for row in who_weight.TABLE if row.sex == sex}
        for sex in ("boys", "girls")
    )
    return ((f"{month} mo", _plain(boys[month]), _plain(girls[month])) for month in boys)


def _ward() -> Iterable[Cells]:
    for row in kipps_2017.TABLE:
        pairs = (row.heart_before, row.heart, row.breath_before, row.breath, row.breath_revised)
        yield (row.group, *(f"{low}–{high}" for low, high in pairs))


_RANGE_HEAD = ("Vital sign", "Group", "When", "Low", "High")
_SCORE_HEAD = ("Vital sign", "Ages", "Score")
_BESIDE = "Shown beside the others; no rule and no bound rests on it."

SHELF: tuple[PublishedTable, ...] = (
    _table(
        fleming_2011,
        "Heart and respiratory rate of healthy children",
        "Alarm on arrival, the fan behind the limits, and the centile of a value.",
        ("Vital sign", "Age", *(f"{centile}" for centile in fleming_2011.CENTILES)),
        _centiles(),
    ),
    _table(
        pews_england_2023,
        "National PEWS, England",
        "Default bounds of heart and respiratory rate up to 16 years, and of a newborn's pressure.",
        _SCORE_HEAD,
        map(_steps, pews_england_2023.TABLE),
    ),
    _table(
        news2_2017,
        "NEWS2",
        "Default bounds of adults: fast heart, low temperature, saturation under hypercapnia risk.",
        _SCORE_HEAD,
        map(_steps, news2_2017.TABLE),
    ),
    _table(
        met_criteria,
        "Medical emergency team calling criteria",
        "Default bounds of adults and adolescents.",
        ("Criteria", *_RANGE_HEAD),
        (
            *(("DeVita 2004", *_range(row)) for row in met_criteria.DEVITA_2004),
            *(("Bellomo 2003", *_range(row)) for row in met_criteria.BELLOMO_2003),
        ),
    ),
    _table(
        pals_2015,
        "PALS normal ranges and hypotension",
        "Default bounds of systolic pressure (hypotension); the normal ranges are shown beside.",
        ("Meaning", *_RANGE_HEAD),
        (
            *(("normal", *_range(row)) for row in pals_2015.NORMAL_RANGES),
            *(("hypotension below", *_range(row)) for row in pals_2015.HYPOTENSION),
        ),
    ),
    _table(
        phoenix_2024,
        "Phoenix sepsis score, mean pressure",
        "Default bounds of mean pressure up to 18 years.",
        _SCORE_HEAD,
        map(_steps, phoenix_2024.TABLE),
    ),
    _table(
        apnoea,
        "Definitions of apnoea",
        "Default bounds of apnoea in the first year.",
        ("Group", "Meaning", "Seconds", "And", "Source", "Read as"),
        (
            (r.group, r.meaning, f"{r.seconds}", r.qualifier, r.source, GRADES[r.grade])
            for r in apnoea.TABLE
        ),
    ),
    _table(
        newborn_spo2,
        "Saturation in the first minutes of life",
        _BESIDE,
        ("Source", "Minute", "From", "To"),
        (
            *map(_minute(newborn_spo2.SOURCE), newborn_spo2.TABLE),
            *map(_minute(newborn_spo2.EUROPEAN_SOURCE), newborn_spo2.EUROPEAN),
        ),
    ),
    _table(
        kipps_2017,
        "Alarm limits of a children’s ward, before and derived from its data",
        _BESIDE,
        (
            "Age",
            "Heart rate, ordered before",
            "Heart rate, data-driven",
            "Respiratory rate, ordered before",
            "Respiratory rate, data-driven",
            "Respiratory rate, revised",
        ),
        _ward(),
    ),
    _table(
        flynn_2017,
        "Blood pressure that needs a further look",
        _BESIDE,
        ("Age", "Boys, mmHg", "Girls, mmHg"),
        (
            (str(r.ages), f"{r.boys[0]}/{r.boys[1]}", f"{r.girls[0]}/{r.girls[1]}")
            for r in flynn_2017.TABLE
        ),
    ),
    _table(
        gemelli_1990,
        "Blood pressure and heart rate in the first year",
        _BESIDE,
        ("Sex", "Age", "Systolic, mmHg", "Diastolic, mmHg", "Heart rate, /min"),
        _gemelli(),
    ),
    _table(
        who_weight,
        "Weight for age, birth to 10 years",
        "An age from weight alone, where the age is unknown.",
        ("Completed months", "Boys, median kg", "Girls, median kg"),
        _weights(),
    ),
    _table(
        cdc_weight,
        "Weight for age, 10 to 18 years",
        "To notice a weight that hardly goes with an age.",
        ("Age", "Median kg"),
        ((f"{age} y", _plain(kg)) for age, kg in cdc_weight.MEDIANS),
    ),
)
