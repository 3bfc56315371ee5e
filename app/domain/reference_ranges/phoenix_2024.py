"""Mean arterial pressure in the Phoenix sepsis score, from birth to 18 years.

Schlapbach LJ et al. JAMA 2024;331:665-74, doi:10.1001/jama.2024.0179; Sanchez-Pinto LN et al.
JAMA 2024;331:675-86, doi:10.1001/jama.2024.0196. Grade S: two copies of the score table agree.
Checked in tests/published/test_scores.py.
"""

from app.domain.ages import AgeSpan, months
from app.domain.reference_ranges.score_steps import ScoreSteps

SOURCE = "Phoenix 2024: Schlapbach, JAMA 331:665-74; Sanchez-Pinto, JAMA 331:675-86"
GRADE = "S"


def _row(start: int, end: int, two_below: int, none_from: int) -> ScoreSteps:
    """Months; below the first value scores 2, from the second on 0, between them 1."""
    span = AgeSpan(months(start), months(end))
    return ScoreSteps("nibp-mean", span, (two_below, none_from), (2, 1, 0))


TABLE = (
    _row(0, 1, 17, 31),
    _row(1, 12, 25, 39),
    _row(12, 24, 31, 44),
    _row(24, 60, 32, 45),
    _row(60, 144, 36, 49),
    _row(144, 216, 38, 52),
)
