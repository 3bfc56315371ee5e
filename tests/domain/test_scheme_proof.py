from typing import Any

import pytest

from app.domain.scheme_proof import ROW_PX, scheme_proof
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories


def proof_of(**ends: str) -> Any:
    """The five categories; `infant="11 mo"` moves the end of one."""
    document = five_categories()
    for category in document["categories"]:
        category["to"] = ends.get(category["key"], category["to"])
    return scheme_proof(profile_from_document(document).categories)


def test_a_whole_scheme_is_a_staircase_without_a_mark() -> None:
    proof = proof_of()

    assert proof.holds
    assert proof.bands[0].category.key == "neonate"
    assert [band.top - proof.bands[0].top for band in proof.bands] == [
        step * ROW_PX for step in range(5)
    ]
    for younger, older in zip(proof.bands, proof.bands[1:], strict=False):
        assert younger.end == pytest.approx(older.start)
    assert proof.bands[-1].end == pytest.approx(100)


@pytest.mark.parametrize(
    ("end", "kind", "words"),
    [
        ("11 mo", "gap", "Ages 11 mo to 1 y reach no category, and so no limits."),
        ("13 mo", "overlap", "Ages 1 y to 13 mo reach Infant and Young-child: which limits hold?"),
    ],
)
def test_a_fault_is_marked_where_it_lies_with_its_exact_ages(
    end: str, kind: str, words: str
) -> None:
    proof = proof_of(infant=end)

    (fault,) = proof.faults
    assert not proof.holds
    assert (fault.fault.kind, fault.words) == (kind, words)
    starts = {band.category.key: band.start for band in proof.bands}
    infant = next(band for band in proof.bands if band.category.key == "infant")
    assert fault.start == min(infant.end, starts["young-child"])
    assert words in proof.spoken


def test_a_gap_of_one_day_can_still_be_seen() -> None:
    (fault,) = proof_of(child="4748 d").faults

    assert fault.width == 0.6


def test_a_gap_at_the_very_end_stays_on_the_axis() -> None:
    (fault,) = proof_of(adult="129 y").faults

    assert fault.end <= 100


def test_a_name_stands_where_there_is_room() -> None:
    stands = {band.category.key: band.name_stands for band in proof_of().bands}

    assert stands == {
        "neonate": "start", "infant": "start", "young-child": "start",
        "child": "end", "adult": "end",
    }  # fmt: skip


def test_ages_of_neighbouring_edges_do_not_share_a_row() -> None:
    rows = [edge.low for edge in proof_of().edges]

    assert rows == [True, False, True, False]
