"""Ages as exact spans of days. Typed ages: 1 y = 12 mo = 365.25 d."""

import re
from dataclasses import dataclass
from fractions import Fraction

DAYS_PER_YEAR = Fraction(1461, 4)
DAYS_PER_MONTH = DAYS_PER_YEAR / 12
_UNITS = {"d": Fraction(1), "mo": DAYS_PER_MONTH, "y": DAYS_PER_YEAR}
_WRITTEN = re.compile(r"(\d{1,5}(?:\.\d{1,4})?) (d|mo|y)", re.ASCII)
OLDEST_YEARS = 130


@dataclass(frozen=True, order=True)
class Age:
    """Time since birth, exact; ordered."""

    days: Fraction

    @classmethod
    def parse(cls, text: str) -> "Age":
        """Read `28 d`, `4.5 mo` or `16 y`; raises ValueError with words for people."""
        found = _WRITTEN.fullmatch(text)
        if found is None:
            raise ValueError(
                f"{text!r} is no age: write a number, a space and d, mo or y, such as '7 mo'"
            )
        age = cls(Fraction(found[1]) * _UNITS[found[2]])
        if age > OLDEST:
            raise ValueError(f"{text!r} is older than {OLDEST_YEARS} years")
        return age

    @property
    def years(self) -> Fraction:
        return self.days / DAYS_PER_YEAR

    @property
    def months(self) -> Fraction:
        return self.days / DAYS_PER_MONTH

    def __str__(self) -> str:
        """The largest unit that gives a whole number; else the finest that reads well."""
        if self.days.denominator == 1 and self.days < 1:
            return "0 d"
        for unit in ("y", "mo", "d"):
            amount = self.days / _UNITS[unit]
            if amount.denominator == 1:
                return f"{amount} {unit}"
        unit = "mo" if self.days >= DAYS_PER_MONTH else "d"
        return f"{round(float(self.days / _UNITS[unit]), 2):g} {unit}"


def years(amount: int | Fraction) -> Age:
    return Age(amount * DAYS_PER_YEAR)


def months(amount: int | Fraction) -> Age:
    return Age(amount * DAYS_PER_MONTH)


def days(amount: int | Fraction) -> Age:
    return Age(Fraction(amount))


BIRTH = Age(Fraction(0))
OLDEST = years(OLDEST_YEARS)


@dataclass(frozen=True)
class AgeSpan:
    """Half-open `[start, end)`; `end` None is open."""

    start: Age
    end: Age | None

    @property
    def stop(self) -> Age:
        return OLDEST if self.end is None else self.end

    def __contains__(self, age: Age) -> bool:
        day = age.days  # asked for every bound at every age: days compare faster than ages
        return self.start.days <= day and (self.end is None or day < self.end.days)

    def __str__(self) -> str:
        return f"{self.start} and over" if self.end is None else f"{self.start} to {self.end}"

    def words(self) -> list[str | None]:
        return [str(self.start), None if self.end is None else str(self.end)]

    def meet(self, other: "AgeSpan") -> "AgeSpan | None":
        """The ages in both, or None where there are none."""
        start = max(self.start, other.start)
        ends = [span.end for span in (self, other) if span.end is not None]
        end = min(ends) if ends else None
        return None if end is not None and end <= start else AgeSpan(start, end)

    def whole_days(self) -> int:
        """How many whole-day ages (0 d, 1 d, …) lie in the span, which must be closed."""
        return -(-self.stop.days // 1) - -(-self.start.days // 1)


def hull(spans: "list[AgeSpan]") -> AgeSpan:
    """The smallest span that holds all of the spans given."""
    start = min(span.start for span in spans)
    ends = [span.end for span in spans]
    return AgeSpan(start, None if None in ends else max(end for end in ends if end is not None))
