"""Normal ranges of vital signs and the lower limits of systolic pressure in children.

American Heart Association, Pediatric Advanced Life Support, provider material 2015 (ranges) and
2006 and 2015 (hypotension). Grade S: two secondary copies agree. The printed groups leave gaps
(28 d to 1 mo, after 15 y) and are held as printed. Checked in tests/published/test_ranges.py.
"""

from fractions import Fraction

from app.domain.ages import DAYS_PER_MONTH
from app.domain.reference_ranges.range_rows import RangeRow

SOURCE = "American Heart Association, Pediatric Advanced Life Support, 2015"
GRADE = "S"
_row = RangeRow.of
_NEWBORN = (0, Fraction(28) / DAYS_PER_MONTH)

# fmt: off
NORMAL_RANGES = (
    _row("heart-rate", "Neonate <28 d", _NEWBORN, ("100", "205"), when="awake"),
    _row("heart-rate", "Neonate <28 d", _NEWBORN, ("90", "160"), when="asleep"),
    _row("heart-rate", "Infant 1-12 mo", (1, 12), ("100", "190"), when="awake"),
    _row("heart-rate", "Infant 1-12 mo", (1, 12), ("90", "160"), when="asleep"),
    _row("heart-rate", "Toddler 1-2 y", (12, 36), ("98", "140"), when="awake"),
    _row("heart-rate", "Toddler 1-2 y", (12, 36), ("80", "120"), when="asleep"),
    _row("heart-rate", "Preschool 3-5 y", (36, 72), ("80", "120"), when="awake"),
    _row("heart-rate", "Preschool 3-5 y", (36, 72), ("65", "100"), when="asleep"),
    _row("heart-rate", "School 6-11 y", (72, 144), ("75", "118"), when="awake"),
    _row("heart-rate", "School 6-11 y", (72, 144), ("58", "90"), when="asleep"),
    _row("heart-rate", "Adolescent 12-15 y", (144, 192), ("60", "100"), when="awake"),
    _row("heart-rate", "Adolescent 12-15 y", (144, 192), ("50", "90"), when="asleep"),
    _row("respiratory-rate", "Infant <1 y", (0, 12), ("30", "53")),
    _row("respiratory-rate", "Toddler 1-2 y", (12, 36), ("22", "37")),
    _row("respiratory-rate", "Preschool 3-5 y", (36, 72), ("20", "28")),
    _row("respiratory-rate", "School 6-11 y", (72, 144), ("18", "25")),
    _row("respiratory-rate", "Adolescent 12-15 y", (144, 192), ("12", "20")),
    _row("nibp-systolic", "Birth 12 h 3 kg", _NEWBORN, ("60", "76")),
    _row("nibp-systolic", "Neonate 96 h", _NEWBORN, ("67", "84")),
    _row("nibp-systolic", "Infant 1-12 mo", (1, 12), ("72", "104")),
    _row("nibp-systolic", "Toddler 1-2 y", (12, 36), ("86", "106")),
    _row("nibp-systolic", "Preschool 3-5 y", (36, 72), ("89", "112")),
    _row("nibp-systolic", "School 6-9 y", (72, 120), ("97", "115")),
    _row("nibp-systolic", "Preadolescent 10-11 y", (120, 144), ("102", "120")),
    _row("nibp-systolic", "Adolescent 12-15 y", (144, 192), ("110", "131")),
    _row("nibp-diastolic", "Birth 12 h 3 kg", _NEWBORN, ("31", "45")),
    _row("nibp-diastolic", "Neonate 96 h", _NEWBORN, ("35", "53")),
    _row("nibp-diastolic", "Infant 1-12 mo", (1, 12), ("37", "56")),
    _row("nibp-diastolic", "Toddler 1-2 y", (12, 36), ("42", "63")),
    _row("nibp-diastolic", "Preschool 3-5 y", (36, 72), ("46", "72")),
    _row("nibp-diastolic", "School 6-9 y", (72, 120), ("57", "76")),
    _row("nibp-diastolic", "Preadolescent 10-11 y", (120, 144), ("61", "80")),
    _row("nibp-diastolic", "Adolescent 12-15 y", (144, 192), ("64", "83")),
)

# Systolic pressure below which the source speaks of hypotension.
HYPOTENSION = (
    _row("nibp-systolic", "Term neonate 0-28 d", _NEWBORN, ("60", None)),
    _row("nibp-systolic", "Infant 1-12 mo", (1, 12), ("70", None)),
    _row("nibp-systolic", "Child 1-10 y", (12, 120), ("70", None), per_year="2"),
    _row("nibp-systolic", "Child >=10 y", (120, 216), ("90", None)),
)
# fmt: on
