"""Which of model, software, station, reader … goes with a deviation better than chance does.

For every way in which devices deviate and every value of every attribute, Fisher's exact test,
one-sided: are there more of them among the devices with this value than a draw would give?
(Fisher, Statistical Methods for Research Workers, 1934.) All tests that were made are counted, and
the chances corrected for their number step by step (Holm, Scand J Stat 1979;6:65-70), which holds
however the tests hang together.
A pattern says where to look. It proves no cause.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from math import exp, lgamma

FEWEST = 2
"""Devices that deviate alike, and devices that share a value: one alone is no pattern."""


@dataclass(frozen=True)
class Case:
    """A device: its attributes, what could be asked of it, and in which ways it deviates.

    `asked` holds the questions that were answered at all, such as the alarms that were read;
    a way to deviate is a pair of a question and the answer found.
    """

    device: str
    attributes: Mapping[str, str]
    asked: Set[str]
    found: Set[tuple[str, str]]


@dataclass(frozen=True)
class Pattern:
    """`of_with` devices have the value, `with_value` of them deviate in this way; and the others.

    `chance` is corrected for all `tried` tests. `alike`: other values that part the devices in
    the very same way, so that the figures cannot tell them apart.
    """

    question: str
    answer: str
    attribute: str
    value: str
    with_value: int
    of_with: int
    without: int
    of_without: int
    chance: float
    tried: int
    devices: tuple[str, ...]
    alike: tuple[tuple[str, str], ...] = ()

    @property
    def complete(self) -> bool:
        """Every device with the value deviates so, and no other one does."""
        return self.with_value == self.of_with and self.without == 0


@dataclass(frozen=True)
class _Tested:
    way: tuple[str, str]
    attribute: str
    value: str
    among: frozenset[str]
    deviating: frozenset[str]
    asked: int
    p: float


def patterns(cases: Iterable[Case], *, doubt: float = 0.05) -> list[Pattern]:
    """What is less likely than `doubt` to be chance: one pattern a way, the surest first."""
    tested = _all_tested(list(cases))
    chances = holm([test.p for test in tested])
    sure: dict[tuple[str, str], list[tuple[float, _Tested]]] = defaultdict(list)
    for chance, test in zip(chances, tested, strict=True):
        if chance <= doubt:
            sure[test.way].append((chance, test))
    found = [_best(tests, tried=len(tested)) for tests in sure.values()]
    return sorted(found, key=lambda one: (one.chance, -one.with_value, one.question, one.answer))


def _best(tests: Sequence[tuple[float, _Tested]], *, tried: int) -> Pattern:
    """The least likely to be chance; among equals the one that more devices share."""
    chance, best = min(tests, key=lambda one: (one[1].p, -len(one[1].among)))
    alike = tuple(
        (test.attribute, test.value)
        for _, test in tests
        if test.among == best.among and test is not best
    )
    hit = best.deviating & best.among
    return Pattern(
        *best.way,
        attribute=best.attribute,
        value=best.value,
        with_value=len(hit),
        of_with=len(best.among),
        without=len(best.deviating) - len(hit),
        of_without=best.asked - len(best.among),
        chance=chance,
        tried=tried,
        devices=tuple(sorted(hit)),
        alike=alike,
    )


def _all_tested(cases: Sequence[Case]) -> list[_Tested]:
    """The order is that of the names, so that the same devices always give the same answer.

    What is left out is left out by the counts alone, never by how they fall together.
    """
    ways: dict[tuple[str, str], set[str]] = defaultdict(set)
    for case in cases:
        for way in case.found:
            ways[way].add(case.device)
    tested = []
    for way in sorted(way for way, devices in ways.items() if len(devices) >= FEWEST):
        asked = [case for case in cases if way[0] in case.asked]
        for (attribute, value), among in sorted(_sharing(asked).items()):
            if FEWEST <= len(among) < len(asked):
                tested.append(_tested(way, attribute, value, among, ways[way], len(asked)))
    return tested


def _sharing(cases: Iterable[Case]) -> dict[tuple[str, str], set[str]]:
    """Devices by attribute and value; what nobody told is no value."""
    shared: dict[tuple[str, str], set[str]] = defaultdict(set)
    for case in cases:
        for attribute, value in case.attributes.items():
            if value:
                shared[attribute, value].add(case.device)
    return shared


def _tested(
    way: tuple[str, str],
    attribute: str,
    value: str,
    among: set[str],
    deviating: set[str],
    asked: int,
) -> _Tested:
    hit = len(among & deviating)
    p = fisher_greater(hit, len(among), len(deviating), asked)
    return _Tested(way, attribute, value, frozenset(among), frozenset(deviating), asked, p)


def fisher_greater(hit: int, among: int, deviating: int, asked: int) -> float:
    """Chance of `hit` or more of the `deviating` devices among `among` drawn from `asked`."""
    most = min(among, deviating)
    least = max(0, among + deviating - asked)
    if hit <= least:
        return 1.0
    total = 0.0
    for k in range(most, hit - 1, -1):  # the smallest first, so that nothing small is lost
        total += exp(
            _log_comb(deviating, k)
            + _log_comb(asked - deviating, among - k)
            - _log_comb(asked, among)
        )
    return min(total, 1.0)


def holm(chances: Sequence[float]) -> list[float]:
    """In the order given; never smaller for a test that was less sure."""
    order = sorted(range(len(chances)), key=chances.__getitem__)
    corrected, highest = [0.0] * len(chances), 0.0
    for rank, index in enumerate(order):
        highest = max(highest, min(1.0, (len(chances) - rank) * chances[index]))
        corrected[index] = highest
    return corrected


def _log_comb(n: int, k: int) -> float:
    return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1)
