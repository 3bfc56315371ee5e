import json

import pytest

from app.domain.findings import Severity
from app.domain.rules import check
from app.exchange.profile_json import parse_profile
from tests.worked_profiles import document

Bands = dict[str, tuple[str, str | None]]


def told(bands: Bands) -> list[tuple[str, str, str | None]]:
    """(rule, ages, category) of what is wrong with a scheme that states no setting."""
    profile = parse_profile(json.dumps(document({k: (*v, {}) for k, v in bands.items()})))
    return [
        (finding.rule, str(finding.ages), finding.category)
        for finding in check(profile)
        if finding.severity is Severity.UNSAFE
    ]


@pytest.mark.parametrize(
    ("bands", "faults"),
    [
        # the end of one band is the start of the next: at, a day under, a day over
        ({"a": ("0 d", "28 d"), "b": ("28 d", None)}, []),
        ({"a": ("0 d", "27 d"), "b": ("28 d", None)}, [("category-gap", "27 d to 28 d", None)]),
        ({"a": ("0 d", "29 d"), "b": ("28 d", None)}, [("category-overlap", "28 d to 29 d", "a")]),
        # 365 days are not yet a year of 365.25
        ({"a": ("0 d", "365 d"), "b": ("1 y", None)}, [("category-gap", "365 d to 1 y", None)]),
        ({"a": ("0 d", "12 mo"), "b": ("1 y", None)}, []),
        # both ends of life
        ({"a": ("1 d", None)}, [("category-gap", "0 d to 1 d", None)]),
        ({"a": ("0 d", "16 y")}, [("category-gap", "16 y and over", None)]),
        # a band within another
        ({"a": ("0 d", None), "b": ("1 y", "2 y")}, [("category-overlap", "1 y to 2 y", "a")]),
    ],
)
def test_every_age_reaches_exactly_one_category(
    bands: Bands, faults: list[tuple[str, str, str | None]]
) -> None:
    assert told(bands) == faults


def test_an_overlap_names_everybody_in_it() -> None:
    bands: Bands = {"a": ("0 d", "2 y"), "b": ("1 y", None)}
    profile = parse_profile(json.dumps(document({k: (*v, {}) for k, v in bands.items()})))

    (finding,) = [f for f in check(profile) if f.rule == "category-overlap"]

    assert finding.measured == {"categories": ["a", "b"]}
    assert finding.ages is not None
    assert finding.ages.words() == ["1 y", "2 y"]
