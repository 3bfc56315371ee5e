"""Published ranges: what one source calls low and high at some ages."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.domain.ages import AgeSpan, months


@dataclass(frozen=True)
class RangeRow:
    """`low` and `high` as printed, None where the source gives none. `group` is the source's own
    name of the row; `when` is a state that it names, such as asleep."""

    vital_sign: str
    group: str
    ages: AgeSpan
    low: Decimal | None
    high: Decimal | None
    when: str | None = None
    per_year: Decimal = Decimal(0)  # added to `low` for each year of age

    @classmethod
    def of(
        cls,
        vital_sign: str,
        group: str,
        ages: tuple[int | Fraction, int | Fraction | None],
        printed: tuple[str | None, str | None],
        *,
        when: str | None = None,
        per_year: str = "0",
    ) -> "RangeRow":
        """Ages in months; numbers as text, exactly as printed."""
        low, high = (None if text is None else Decimal(text) for text in printed)
        start, end = ages
        span = AgeSpan(months(start), None if end is None else months(end))
        return cls(vital_sign, group, span, low, high, when, Decimal(per_year))
