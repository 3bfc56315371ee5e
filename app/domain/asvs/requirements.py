"""What is said of one requirement, and the short form in which the chapters say it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum


class Standing(StrEnum):
    MET = "met"
    NOT_APPLICABLE = "not applicable"
    OPEN = "open"


@dataclass(frozen=True)
class Requirement:
    """`tests`: files under tests/, without the ending, or one test as `file::name`."""

    id: str
    standing: Standing
    says: str
    tests: tuple[str, ...] = ()


@dataclass(frozen=True)
class Section:
    id: str
    name: str
    requirements: tuple[Requirement, ...]

    def count(self, standing: Standing) -> int:
        return sum(one.standing is standing for one in self.requirements)


Row = tuple[str, str, str]
"""A section: its identifier, its name, and its requirements, one a line:
`number | m, o or n | what is done | tests, by spaces`. Several numbers, as 1-4, share a line."""
_LETTERS = {"m": Standing.MET, "n": Standing.NOT_APPLICABLE, "o": Standing.OPEN}


def sections(rows: Iterable[Row]) -> tuple[Section, ...]:
    return tuple(Section(id_, name, tuple(_requirements(id_, text))) for id_, name, text in rows)


def _requirements(section: str, text: str) -> Iterator[Requirement]:
    for line in text.strip().splitlines():
        numbers, letter, says, *tests = (part.strip() for part in line.split("|"))
        named = tuple(tests[0].split()) if tests else ()
        for number in _each(numbers):
            yield Requirement(f"{section}.{number}", _LETTERS[letter], says, named)


def _each(numbers: str) -> range:
    first, _, last = numbers.partition("-")
    return range(int(first), int(last or first) + 1)
