import hashlib
from dataclasses import replace

import pytest

from app.domain.ledger import GENESIS, Entry, entry_hash, prove


def chain(*bodies: str) -> list[Entry]:
    entries, prev = [], GENESIS
    for seq, body in enumerate(bodies, start=1):
        entries.append(Entry(seq, body, prev, entry_hash(prev, body)))
        prev = entries[-1].hash
    return entries


WHOLE = chain('{"did":"a"}', '{"did":"b"}', '{"did":"c"}', '{"did":"d"}')
HEAD = WHOLE[-1].hash


def with_second(entry: Entry) -> list[Entry]:
    return [WHOLE[0], entry, *WHOLE[2:]]


def test_the_bytes_that_are_hashed_are_fixed() -> None:
    """Papers already signed carry these hashes."""
    expected = hashlib.sha256(b"0" * 64 + b'\n{"caf\xc3\xa9":1}').hexdigest()

    assert entry_hash(GENESIS, '{"café":1}') == expected


def test_a_whole_chain_holds_and_names_its_head() -> None:
    proof = prove(WHOLE)

    assert (proof.holds, proof.entries, proof.head) == (True, 4, HEAD)
    assert (proof.broken_at, proof.why) == (None, None)


def test_an_empty_chain_holds() -> None:
    assert prove([]).holds
    assert prove([]).head == GENESIS


@pytest.mark.parametrize(
    ("entries", "broken_at", "why"),
    [
        (with_second(replace(WHOLE[1], body='{"did":"x"}')), 2, "was altered"),
        (with_second(replace(WHOLE[1], hash=entry_hash(GENESIS, "{}"))), 2, "was altered"),
        (
            with_second(replace(WHOLE[1], body="{}", hash=entry_hash(WHOLE[0].hash, "{}"))),
            3,
            "does not follow",
        ),
        (with_second(replace(WHOLE[1], prev=GENESIS)), 2, "does not follow"),
        (WHOLE[1:], 1, "missing or stands in another place"),
        ([WHOLE[0], *WHOLE[2:]], 2, "missing or stands in another place"),
        ([WHOLE[0], WHOLE[2], WHOLE[1], WHOLE[3]], 2, "missing or stands in another place"),
        ([*WHOLE[:2], replace(WHOLE[3], seq=3)], 3, "does not follow"),
        ([WHOLE[0], WHOLE[0], *WHOLE[1:]], 2, "missing or stands in another place"),
    ],
    ids=[
        "altered body",
        "altered hash",
        "altered and hashed anew",
        "altered link",
        "first removed",
        "one removed",
        "reordered",
        "removed and numbered anew",
        "doubled",
    ],
)
def test_tampering_is_named_at_the_first_entry_that_does_not_hold(
    entries: list[Entry], broken_at: int, why: str
) -> None:
    proof = prove(entries)

    assert (proof.holds, proof.broken_at) == (False, broken_at)
    assert why in str(proof.why)
    assert proof.entries == broken_at - 1


def test_a_cut_tail_shows_only_against_a_head_kept_outside() -> None:
    cut = WHOLE[:-1]

    assert prove(cut).holds
    proof = prove(cut, HEAD)
    assert (proof.holds, proof.broken_at, proof.head) == (False, 4, cut[-1].hash)
    assert HEAD in str(proof.why)


@pytest.mark.parametrize(("head", "added"), [(HEAD, False), (WHOLE[1].hash, True), (GENESIS, True)])
def test_entries_added_since_a_head_was_written_down_are_told(head: str, added: bool) -> None:
    proof = prove(WHOLE, head)

    assert proof.holds
    assert (proof.why is not None) == added


def test_a_chain_written_anew_does_not_hold_against_an_old_head() -> None:
    forged = chain('{"did":"x"}', '{"did":"b"}', '{"did":"c"}', '{"did":"d"}')

    assert prove(forged).holds
    assert not prove(forged, HEAD).holds
