"""Which columns trends may have, and which tell who somebody is: those are refused by name.

A recording needs to keep patients apart and nothing more; what is stored numbers them anew.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence, Set

from app.domain.errors import Fault, Refused

REQUIRED = ("patient", "second")
Sizes = Callable[[int, int], None]
"""Refuses so many rows of so many vital signs, before they fill the memory."""
_TELLING = {
    "a name": r"(first|last|sur|fore|given|family|middle|full|patient|pat)?_?names?",
    "a date of birth": r"(date_of_)?birth(_?(date|day))?|born(_on)?|dob|birth_?year",
    "a record number": (
        r"(m|h|e|p)rn|(patient|pat|record|hospital|case|chart|hosp|nhs|chi|ssn|insurance|medical"
        r"|social_security)(_(record|security|hospital))?_?(no|nr|num|number|id)|nhs|ssn|chi|pid"
        r"|encounter(_id)?|admission_id|incident(_(no|nr|number|id))?|run_(no|nr|number)"
    ),
    "an address": r"(home_?)?address|street|post_?code|zip(_?code)?|city|town",
    "a way to reach somebody": r"(tele|mobile_?)?phone(_?(no|number))?|tel|mobile|e_?mail",
    "a time of day by which a journey can be found": r"(date|datetime|time_?stamp|day|started_at)",
}
_TOLD = {meant: re.compile(shape) for meant, shape in _TELLING.items()}
_DATE = re.compile(r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}", re.ASCII)
_DATE_IN_WORDS = re.compile(
    r"\d[ .\-]*(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?[ .\-]*\d", re.I
)
_LONG_NUMBER = re.compile(r"(\d[ -]?){7,}", re.ASCII)
_WORDS = re.compile(r"[^\W\d_]{2,}(,|\.)?[ ][^\W\d_]|[^\W\d_]{2,}[_^,.]+ ?[^\W\d_]{2,}")
_WORD_ALONE = re.compile(r"[^\W\d]{3,}")  # numbers and single letters keep patients apart
_LABEL = re.compile(
    r"(?<!\w)((?:[^\W\d]+[ .\-]+){0,3}?[^\W\d]+)\.? *(?:([:=#])|(?=(\d)))", re.ASCII
)
_OF_SOMEBODY = {"a date of birth", "a record number"}
_TITLE = re.compile(r"(?<!\w)(mr|mrs|ms|miss|mstr)\.? +[^\W\d_]", re.I)
_YEARS = re.compile(r"(19|20)\d\d ?[-–/] ?(19|20)\d\d(?!\d)")


def check_columns(names: Sequence[str], known_vital_signs: Set[str]) -> None:
    """Raises Refused with every column that may not be there."""
    faults = [Fault("this column is missing", 1, name) for name in REQUIRED if name not in names]
    for index, name in enumerate(names):
        if name in REQUIRED or name in known_vital_signs:
            continue
        meant = identifying(name)
        reason = f"this looks like {meant}: take the column out" if meant else "unknown column"
        faults.append(Fault(reason, 1, name or f"column {index + 1}", name))
    if faults:
        raise Refused(faults)
    if len(names) == len(REQUIRED):
        raise Refused([Fault("there is no column of a vital sign", 1, "file")])


def identifying(column: str) -> str:
    """What a column seems to tell of somebody; empty for none."""
    plain = re.sub(r"[\s\-.]+", "_", re.sub(r"(?<=[a-z])(?=[A-Z])", "_", column)).lower().strip("_")
    return next((meant for meant, shape in _TOLD.items() if shape.fullmatch(plain)), "")


def check_patients(names: Iterable[str]) -> None:
    """What stands in the column `patient` must keep patients apart and tell nothing of them.

    Raises Refused, and does not repeat what it found.
    """
    for name in names:
        meant = _telling(name)
        if meant:
            raise Refused.because(
                f"a value looks like {meant}: number the patients yourself, such as p1, p2",
                column="patient",
            )


def check_words(text: str, column: str) -> None:
    """What people write of a recording, too, must tell of nobody in it. Raises Refused."""
    meant = _told_in_words(text)
    if meant:
        raise Refused.because(
            f"this seems to tell {meant}: no person may be named, nor a day or a number by which "
            "one can be found",
            column=column,
        )


def _told_in_words(text: str) -> str:
    """Empty for nothing. A word such as `name` counts before a colon, `born` before a number."""
    for found in _LABEL.finditer(text):
        meant = next(filter(None, map(identifying, _endings(found[1]))), "")
        if meant and (found[2] or (meant in _OF_SOMEBODY and found[3])):
            return meant
    if _TITLE.search(text):
        return "a name"
    if _DATE.search(text) or _DATE_IN_WORDS.search(text):
        return "a date"
    return "a record number" if _LONG_NUMBER.search(_YEARS.sub("", text)) else ""


def _endings(words: str) -> Iterator[str]:
    """The last word, the last two, and so on."""
    each = words.split()
    return (" ".join(each[start:]) for start in range(len(each)))


def _telling(name: str) -> str:
    if _DATE.search(name) or _DATE_IN_WORDS.search(name):
        return "a date"
    if _LONG_NUMBER.search(name):
        return "a record number"
    return "a name" if _WORDS.search(name) or _WORD_ALONE.fullmatch(name.strip()) else ""
