"""National Early Warning Score 2, for people of 16 years and over.

Royal College of Physicians, National Early Warning Score (NEWS) 2, London 2017, chart 1.
Grade S: a transcription of the chart was read. Checked in tests/published/test_scores.py.
"""

from app.domain.ages import AgeSpan, years
from app.domain.reference_ranges.score_steps import ScoreSteps

SOURCE = "Royal College of Physicians, NEWS2, 2017, chart 1"
GRADE = "S"
_ADULTS = AgeSpan(years(16), None)


def _steps(
    vital_sign: str, edges: tuple[float, ...], scores: tuple[int, ...], when: str | None = None
) -> ScoreSteps:
    return ScoreSteps(vital_sign, _ADULTS, edges, scores, when)


TABLE = (
    _steps("respiratory-rate", (9, 12, 21, 25), (3, 1, 0, 2, 3)),
    _steps("spo2", (92, 94, 96), (3, 2, 1, 0)),
    _steps("spo2", (84, 86, 88), (3, 2, 1, 0), "hypercapnia-risk"),
    _steps("spo2", (84, 86, 88, 93, 95, 97), (3, 2, 1, 0, 1, 2, 3), "hypercapnia-risk on oxygen"),
    _steps("nibp-systolic", (91, 101, 111, 220), (3, 2, 1, 0, 3)),
    _steps("heart-rate", (41, 51, 91, 111, 131), (3, 1, 0, 1, 2, 3)),
    _steps("temperature", (35.1, 36.1, 38.1, 39.1), (3, 1, 0, 1, 2)),
)
