import pytest

from app.domain.ages import Age, AgeSpan
from app.domain.patient_categories import PatientCategory, category_at, prove_scheme


def scheme(*bands: str) -> list[PatientCategory]:
    """From `28 d - 1 y` and the like; the key is the place in the list."""
    found = []
    for index, band in enumerate(bands):
        start, end = band.split(" - ")
        span = AgeSpan(Age.parse(start), None if end == "open" else Age.parse(end))
        found.append(PatientCategory(str(index), band, span))
    return found


@pytest.mark.parametrize(
    ("bands", "faults"),
    [
        (["0 d - 28 d", "28 d - open"], []),
        (["28 d - open", "0 d - 28 d"], []),
        (["0 d - 365 d", "1 y - open"], [("gap", "365 d to 1 y", ())]),
        (["0 d - 366 d", "1 y - open"], [("overlap", "1 y to 366 d", ("0", "1"))]),
        (["1 y - 13 y"], [("gap", "0 d to 1 y", ()), ("gap", "13 y and over", ())]),
        (["0 d - open", "5 y - 6 y"], [("overlap", "5 y to 6 y", ("0", "1"))]),
        (
            ["0 d - 1 y", "2 y - 3 y", "4 y - open"],
            [("gap", "1 y to 2 y", ()), ("gap", "3 y to 4 y", ())],
        ),
        (["0 d - open", "0 d - open"], [("overlap", "0 d and over", ("0", "1"))]),
    ],
)
def test_a_scheme_is_proved(
    bands: list[str], faults: list[tuple[str, str, tuple[str, ...]]]
) -> None:
    found = [(fault.kind, str(fault.span), fault.keys) for fault in prove_scheme(scheme(*bands))]

    assert found == faults


@pytest.mark.parametrize(("age", "band"), [("27 d", "0"), ("28 d", "1"), ("100 y", "1")])
def test_an_age_reaches_its_category(age: str, band: str) -> None:
    found = category_at(scheme("0 d - 28 d", "28 d - open"), Age.parse(age))

    assert found is not None
    assert found.key == band
