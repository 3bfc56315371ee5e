"""Ages from a birth date. Nothing here is kept: a birth date comes in, words or a category go out.

An edge of whole years or months, as `str(age)` tells it, falls on that anniversary of the birth
date; so `12 mo` and `1 y` are one edge, and `1461 d` is 4 y. Every other edge (28 d, 4.5 mo) is
reached after that many days, a part of a day counting as a day.

An anniversary that the calendar lacks (born 29 February, or 31 January plus one month) falls on
the first day after that month, so that nobody ages early. This is a judgement: common legal
practice differs from country to country.

Against typed ages (1 y = 365.25 d) an edge of days falls on the same day, one of years within a
day, one of months within three, because months are 28 to 31 days long.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from math import ceil

from app.domain.age_axis import spoken
from app.domain.ages import OLDEST, OLDEST_YEARS, Age, days, months
from app.domain.errors import Refused
from app.domain.patient_categories import PatientCategory

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def first_day_of(edge: Age, born: date) -> date:
    """The day on which the age is reached."""
    whole_months = edge.months
    if whole_months.denominator == 1:
        return _monthly_anniversary(born, int(whole_months))
    return born + timedelta(days=ceil(edge.days))


def reaches(edge: Age, born: date, on: date) -> bool:
    return first_day_of(edge, born) <= on


def age_on(born: date, on: date) -> Age:
    """Days lived; raises Refused for a birth date in the future or longer ago than people live."""
    if born > on:
        # The date itself is not repeated: refusals may be logged, birth dates may not.
        raise Refused.because("a birth date cannot lie in the future", column="born")
    age = days((on - born).days)
    if age > OLDEST:
        raise Refused.because(
            f"a birth date cannot lie more than {OLDEST_YEARS} years back", column="born"
        )
    return age


def completed_months(born: date, on: date) -> int:
    passed = 12 * (on.year - born.year) + on.month - born.month
    return passed if _monthly_anniversary(born, passed) <= on else passed - 1


def category_on(
    categories: Sequence[PatientCategory], born: date, on: date
) -> PatientCategory | None:
    """The youngest category whose end is not reached yet; None where the scheme has a gap.

    Two edges closer than three days, one in months and one in days (30 d and 1 mo), can fall in
    the other order for some birth dates; the youngest still gives exactly one answer.
    """
    age_on(born, on)
    for category in sorted(categories, key=lambda one: one.span.start):
        end = category.span.end
        if end is None or not reaches(end, born, on):
            return category if reaches(category.span.start, born, on) else None
    return None


def lived_words(born: date, on: date) -> str:
    """`12 d`, `7 mo`, `4 y 5 mo`, in completed months once there is one."""
    lived = age_on(born, on)
    completed = completed_months(born, on)
    return spoken(months(completed)) if completed else f"{lived.days} d"


def words(born: date, on: date) -> str:
    """`12 d, born 3 Nov`, `7 mo, born 12 Apr`, `4 y 5 mo, born 25 Jun 2022` (year from 1 y on)."""
    year = f" {born.year}" if completed_months(born, on) >= 12 else ""
    return f"{lived_words(born, on)}, born {born.day} {_MONTHS[born.month - 1]}{year}"


def _monthly_anniversary(born: date, months_later: int) -> date:
    year, month = divmod(12 * born.year + born.month - 1 + months_later, 12)
    try:
        return date(year, month + 1, born.day)
    except ValueError:
        return date(year, month + 2, 1)  # December has 31 days, so this is never month 13
