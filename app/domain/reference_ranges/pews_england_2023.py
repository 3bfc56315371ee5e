"""National Paediatric Early Warning System, England: score bands from birth to 18 years.

NHS England, Configuration Document for SPOT NPEWS (National PEWS, 2023 charts).
Grade P: the primary text was read. Checked in tests/published/test_scores.py.
"""

from app.domain.ages import AgeSpan, years
from app.domain.reference_ranges.score_steps import ScoreSteps

SOURCE = "NHS England, Configuration Document for SPOT NPEWS (National PEWS, 2023)"
GRADE = "P"
_AGES = {
    "0-11 mo": AgeSpan(years(0), years(1)),
    "1-4 y": AgeSpan(years(1), years(5)),
    "5-12 y": AgeSpan(years(5), years(13)),
    "13-18 y": AgeSpan(years(13), years(19)),
}


def _steps(
    vital_sign: str, band: str, edges: tuple[float, ...], scores: tuple[int, ...]
) -> ScoreSteps:
    return ScoreSteps(vital_sign, _AGES[band], edges, scores)


_BOTH_WAYS = (4, 2, 1, 0, 1, 2, 4)

TABLE = (
    _steps("respiratory-rate", "0-11 mo", (10, 20, 30, 50, 60, 70), _BOTH_WAYS),
    _steps("respiratory-rate", "1-4 y", (10, 20, 40, 50, 60), (4, 2, 0, 1, 2, 4)),
    _steps("respiratory-rate", "5-12 y", (10, 15, 20, 25, 40, 50), _BOTH_WAYS),
    _steps("respiratory-rate", "13-18 y", (10, 15, 25, 30, 40), (4, 1, 0, 1, 2, 4)),
    _steps("heart-rate", "0-11 mo", (80, 90, 110, 150, 170, 180), _BOTH_WAYS),
    _steps("heart-rate", "1-4 y", (60, 70, 90, 140, 150, 170), _BOTH_WAYS),
    _steps("heart-rate", "5-12 y", (60, 70, 80, 120, 140, 160), _BOTH_WAYS),
    _steps("heart-rate", "13-18 y", (50, 60, 70, 100, 120, 130), _BOTH_WAYS),
    _steps("nibp-systolic", "0-11 mo", (50, 60, 70, 90, 100, 110), _BOTH_WAYS),
    _steps("nibp-systolic", "1-4 y", (50, 60, 80, 100, 120, 130), _BOTH_WAYS),
    _steps("nibp-systolic", "5-12 y", (70, 80, 90, 110, 120, 130), _BOTH_WAYS),
    _steps("nibp-systolic", "13-18 y", (80, 90, 100, 120, 130, 140), _BOTH_WAYS),
    _steps("spo2", "0-11 mo", (91.01, 95), (4, 1, 0)),
    _steps("spo2", "1-4 y", (91.01, 95), (4, 1, 0)),
    _steps("spo2", "5-12 y", (91.01, 95), (4, 1, 0)),
    _steps("spo2", "13-18 y", (91.01, 95), (4, 1, 0)),
)
