"""After how many seconds without a breath different sources speak of apnoea.

Checked in tests/published/test_ranges.py.
"""

from dataclasses import dataclass

SOURCE = "NIH consensus 1986, Eichenwald 2016, Vergales 2013"
GRADE = "S"  # at best; each row says its own


@dataclass(frozen=True)
class ApnoeaRow:
    """`qualifier` is what else counts in the source's own terms, in our words."""

    group: str
    meaning: str
    seconds: int
    qualifier: str
    source: str
    grade: str


_NIH = "NIH Consensus Development Conference 1986 (Pediatrics 1987;79:292-9)"

TABLE = (
    ApnoeaRow(
        "infant", "pathologic", 20, "or shorter with colour change or bradycardia", _NIH, "S"
    ),
    ApnoeaRow("infant", "a short central pause can be normal", 15, "", _NIH, "S"),
    ApnoeaRow(
        "infant", "periodic breathing", 3, "three or more pauses, under 20 s apart", _NIH, "S"
    ),
    ApnoeaRow(
        "preterm",
        "apnoea of prematurity",
        20,
        "or shorter with bradycardia or desaturation",
        "Eichenwald 2016, Pediatrics 137:e20153757, the number from memory",
        "M",
    ),
    ApnoeaRow(
        "preterm",
        "detected event",
        10,
        "with bradycardia and desaturation; prolonged above 30 s",
        "Vergales 2013, Am J Perinatol 31:157-62",
        "P",
    ),
)
