import pytest

from app.domain.natural_order import natural


@pytest.mark.parametrize(
    "names",
    [
        ["Station 2", "Station 10"],
        ["Station 2", "station 2a", "Station 10", "West"],
        ["2", "10", "a"],
        ["North", "North 1", "North 2 east", "North 12 east"],
        ["", "1"],
        ["Ost ²", "Ost ³"],  # no number that anybody counts with
    ],
)
def test_names_stand_as_people_count(names: list[str]) -> None:
    mixed = list(reversed(names))

    assert sorted(mixed, key=natural) == names


def test_names_that_differ_only_in_case_keep_one_order() -> None:
    assert sorted(["b", "B"], key=natural) == sorted(["B", "b"], key=natural)
