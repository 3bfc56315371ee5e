import hashlib
from fractions import Fraction
from itertools import product
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.draws import CENSUS_UP_TO, Draw, Listed, allocate, draw, size_for, statement
from app.domain.errors import Refused
from app.domain.intervals import at_most

CONFIDENCE = Fraction(95, 100)


def fleet(count: int, *, stations: int = 1) -> list[Listed]:
    return [
        Listed(f"d-{n:03}", "" if stations == 1 else f"station {n % stations}")
        for n in range(count)
    ]


def none_off(drawn: Draw) -> dict[str, bool]:
    return dict.fromkeys(drawn.chosen, False)


class TestSize:
    @pytest.mark.parametrize(
        ("count", "size"),
        [(1, 1), (CENSUS_UP_TO, 30), (CENSUS_UP_TO + 1, 24), (40, 31), (100, 45)],
    )
    def test_all_of_a_small_fleet_and_few_of_a_large_one(self, count: int, size: int) -> None:
        assert size_for(count, tolerate=Fraction(5, 100), confidence=CONFIDENCE) == size


class TestDrawing:
    def test_the_same_list_and_seed_draw_the_same_devices_in_any_order(self) -> None:
        there, back = fleet(40), fleet(40)[::-1]

        assert draw(there, size=31, seed="s") == draw(back, size=31, seed="s")

    def test_another_seed_draws_others(self) -> None:
        assert draw(fleet(40), size=9, seed="a").chosen != draw(fleet(40), size=9, seed="b").chosen

    def test_anybody_can_draw_it_again_with_a_hash(self) -> None:
        tags = [one.tag for one in fleet(12)]
        lots = sorted(tags, key=lambda tag: hashlib.sha256(f"seed\n{tag}".encode()).hexdigest())

        assert draw(fleet(12), size=4, seed="seed").chosen == tuple(sorted(lots[:4]))

    def test_a_device_left_off_the_list_shows(self) -> None:
        whole, short = draw(fleet(40), size=9, seed="s"), draw(fleet(39), size=9, seed="s")

        assert whole.fingerprint != short.fingerprint

    @pytest.mark.parametrize("size", [0, 41])
    def test_no_more_than_there_are(self, size: int) -> None:
        with pytest.raises(Refused):
            draw(fleet(40), size=size, seed="s")

    def test_a_divided_list_is_drawn_from_every_part(self) -> None:
        listed = [*fleet(40), Listed("lone", "far away")]

        drawn = draw(listed, size=10, seed="s")

        assert drawn.strata() == {"": (40, 9), "far away": (1, 1)}


class TestAllocating:
    @pytest.mark.parametrize(
        ("strata", "size", "shares"),
        [
            ({"a": 10, "b": 10}, 4, {"a": 2, "b": 2}),
            ({"a": 30, "b": 10}, 4, {"a": 3, "b": 1}),
            ({"a": 98, "b": 1, "c": 1}, 3, {"a": 1, "b": 1, "c": 1}),
            ({"a": 98, "b": 1, "c": 1}, 10, {"a": 8, "b": 1, "c": 1}),
            ({"a": 5, "b": 5, "c": 5}, 2, {"a": 0, "b": 1, "c": 1}),
            ({"a": 2, "b": 2}, 4, {"a": 2, "b": 2}),
        ],
    )
    def test_in_proportion_but_none_left_out(
        self, strata: dict[str, int], size: int, shares: dict[str, int]
    ) -> None:
        assert allocate(strata, size) == shares

    @given(st.dictionaries(st.text(min_size=1), st.integers(1, 50), min_size=1), st.data())
    def test_it_always_adds_up_within_what_there_is(
        self, strata: dict[str, int], data: st.DataObject
    ) -> None:
        size = data.draw(st.integers(1, sum(strata.values())))

        shares = allocate(strata, size)

        assert sum(shares.values()) == size
        assert all(0 <= shares[name] <= strata[name] for name in strata)


class TestStatement:
    def test_thirty_one_of_forty_and_none_off(self) -> None:
        drawn = draw(fleet(40), size=31, seed="s")

        found = statement(drawn, read=none_off(drawn), confidence=CONFIDENCE)

        assert found.words == (
            "31 of 40 devices read, none off: with 95 % confidence at most 1 of all 40."
        )

    def test_some_off(self) -> None:
        drawn = draw(fleet(100), size=45, seed="s")
        read = none_off(drawn) | {drawn.chosen[0]: True}

        found = statement(drawn, read=read, confidence=CONFIDENCE)

        assert (found.off, found.most_off) == (1, at_most(1, 45, 100))

    def test_a_count_needs_no_confidence(self) -> None:
        drawn = draw(fleet(20), size=20, seed="s")

        found = statement(drawn, read=none_off(drawn), confidence=CONFIDENCE)

        assert found.words == "All 20 devices read, none off. This is a count, no estimate."

    def test_before_the_last_one_is_read_nothing_is_said_of_the_rest(self) -> None:
        drawn = draw(fleet(40), size=31, seed="s")
        read = dict(list(none_off(drawn).items())[:30])

        found = statement(drawn, read=read, confidence=CONFIDENCE)

        assert found.most_off is None
        assert "before all 31 are read" in found.words

    def test_a_device_that_was_not_drawn_tells_nothing(self) -> None:
        drawn = draw(fleet(40), size=31, seed="s")
        other = next(one.tag for one in drawn.listed if one.tag not in drawn.chosen)

        found = statement(drawn, read=none_off(drawn) | {other: True}, confidence=CONFIDENCE)

        assert found.off == 0

    @settings(max_examples=30, deadline=None)
    @given(st.lists(st.integers(1, 6), min_size=2, max_size=3), st.data())
    def test_a_divided_draw_allows_for_the_worst_way_to_lie(
        self, sizes: list[int], data: st.DataObject
    ) -> None:
        reads = [data.draw(st.integers(1, size)) for size in sizes]
        listed = tuple(
            Listed(f"{part}-{n}", str(part)) for part, size in enumerate(sizes) for n in range(size)
        )
        chosen = tuple(f"{part}-{n}" for part, read in enumerate(reads) for n in range(read))
        drawn = Draw(listed, chosen, "s", "f" * 64)

        found = statement(drawn, read=none_off(drawn), confidence=CONFIDENCE)

        possible = [
            sum(off)
            for off in product(*(range(size + 1) for size in sizes))
            if _missed(sizes, reads, off) > 1 - CONFIDENCE
        ]
        assert found.most_off == max(possible)

    def test_a_divided_draw_with_some_off_shares_the_doubt(self) -> None:
        drawn = draw(fleet(60, stations=3), size=30, seed="s")
        read = none_off(drawn) | {drawn.chosen[0]: True}

        found = statement(drawn, read=read, confidence=CONFIDENCE)

        each = 1 - 0.05 / 3
        assert found.most_off == at_most(1, 10, 20, each) + 2 * at_most(0, 10, 20, each)
        assert found.method == "hypergeometric in each stratum, doubt shared"


def _missed(sizes: list[int], reads: list[int], off: tuple[int, ...]) -> Fraction:
    chance = Fraction(1)
    for size, read, bad in zip(sizes, reads, off, strict=True):
        chance *= Fraction(comb(size - bad, read), comb(size, read))
    return chance
