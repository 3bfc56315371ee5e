"""Medical emergency team calling criteria, for adults.

DeVita MA et al. Qual Saf Health Care 2004;13:251-4 and Bellomo R et al. Med J Aust 2003;179:283-7
(the journal of the latter from memory). Grade S. Checked in tests/published/test_ranges.py.
"""

from app.domain.reference_ranges.range_rows import RangeRow

SOURCE = "Medical emergency team calling criteria: DeVita 2004, Bellomo 2003"
GRADE = "S"
_row = RangeRow.of
_ADULTS = (192, None)

DEVITA_2004 = (_row("respiratory-rate", "adult", _ADULTS, ("8", "36")),)
BELLOMO_2003 = (
    _row("heart-rate", "adult", _ADULTS, ("40", "130")),
    _row("respiratory-rate", "adult", _ADULTS, ("8", "30")),
    _row("nibp-systolic", "adult", _ADULTS, ("90", None)),
    _row("spo2", "adult", _ADULTS, ("90", None)),
)
