import pytest

from app.domain.document_differences import Difference, differences
from tests.builders import a_document


def test_a_moved_limit_is_named_by_its_place() -> None:
    theirs, yours = a_document({"heart-rate-high": 160}), a_document({"heart-rate-high": 175})

    assert differences(theirs, yours) == (
        Difference("settings / preschool / heart-rate-high / limit", "160", "175"),
    )


def test_categories_are_compared_by_their_keys_not_their_places() -> None:
    theirs, yours = a_document(), a_document()
    yours["categories"].pop(0)
    yours["categories"][0]["label"] = "Baby"

    found = differences(theirs, yours)

    assert [one.part for one in found] == ["categories / neonate", "categories / infant / label"]
    assert (found[0].yours, found[1].theirs, found[1].yours) == (None, "Infant", "Baby")


@pytest.mark.parametrize(
    ("value", "shown"),
    [(True, "yes"), (False, "no"), (None, "null"), ([1, 2], "[1, 2]"), ("kPa", "kPa")],
)
def test_a_value_is_shown_as_written(value: object, shown: str) -> None:
    assert differences({}, {"x": value}) == (Difference("x", None, shown),)


def test_of_two_equal_documents_nothing_is_told() -> None:
    assert differences(a_document(), a_document()) == ()
