"""Rows of another system's file as rows of ours; whatever is wrong is told by its own columns."""

from collections.abc import Iterable, Iterator, Sequence

from app.domain.column_maps import ColumnMap
from app.domain.errors import Fault
from app.domain.file_lines import FileLines
from app.exchange.report_rows import Rows
from app.exchange.report_runs import Run, grouped


class MappedRows:
    """Where each alarm has a column of its own, a row becomes as many as it has filled cells."""

    def __init__(self, rows: Rows, by: ColumnMap) -> None:
        self._rows, self.by = rows, by
        self._heads = [*by.columns, *by.always]
        self._wide = [(place_of(rows, name), alarm) for name, alarm in by.alarms.items()]
        self.header = [*self._heads, "alarm", "reading"] if by.alarms else self._heads
        self.lines = FileLines()
        self.wide = bool(by.alarms)
        self._of_alarm = {alarm: name for name, alarm in by.alarms.items()}

    def __iter__(self) -> Iterator[list[str]]:
        places = [(name, place_of(self._rows, theirs)) for name, theirs in self.by.columns.items()]
        always = list(self.by.always.values())
        word, stands_at, lines = self.by.word, self.lines.add, self._rows.lines
        for row in self._rows:
            head = [*(word(name, row[at].strip()) for name, at in places), *always]
            if not self._wide:
                stands_at(lines.last)
                yield head
                continue
            for at, alarm in self._wide:
                if row[at].strip():
                    stands_at(lines.last)
                    yield [*head, alarm, word("reading", row[at].strip())]

    def runs(self, shared: Sequence[int], others: Sequence[int]) -> Iterator[Run]:
        return grouped(self, shared, others)

    def placed(self, fault: Fault) -> Fault:
        column = str(fault.column)
        theirs = self.by.columns.get(column) or self._of_alarm.get(column)
        if theirs is None and column in self.by.always:
            theirs = f"{column} (the same in every row)"
        return self._rows.placed(Fault(fault.reason, fault.line, theirs or column, fault.value))


def place_of(rows: Rows, theirs: str) -> int:
    """A map is found by the header whatever its capitals, so its columns are, too."""
    wanted = theirs.strip().casefold()
    return next(at for at, name in enumerate(rows.header) if name.strip().casefold() == wanted)


def their_words(
    rows: Rows, by: ColumnMap, columns: Iterable[str], *, most: int
) -> dict[str, list[str]]:
    """The different words of each of our columns, as they are written; in their first order. The
    file is gone through once, however long it is."""
    found: dict[str, dict[str, None]] = {column: {} for column in columns}
    wanted = [(at, words) for name, words in found.items() for at in _places(rows, by, name)]
    for row in rows:
        for at, words in wanted:
            word = row[at]
            if word not in words and len(words) < most and word.strip():
                words[word.strip()] = None
    return {column: list(words) for column, words in found.items()}


def _places(rows: Rows, by: ColumnMap, column: str) -> list[int]:
    places = [place_of(rows, by.columns[column])] if column in by.columns else []
    more = by.alarms if column == "reading" else ()
    return places + [place_of(rows, name) for name in more]
