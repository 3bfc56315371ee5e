"""Edits of a policy's options, and what is wrong with a value before anybody signs it."""

from collections.abc import Iterable, Mapping
from copy import deepcopy
from decimal import Decimal
from typing import Any

from app.domain.documents import Document
from app.domain.errors import NotFound, Refused
from app.domain.findings import Finding
from app.domain.options import OPTIONS, START_UP, OptionKind
from app.domain.patient_categories import PatientCategory
from app.domain.rules.whole_device import BOUND_BREACH, NIBP_INTERVAL, NIBP_STALE

MOST_PERCENT = 100


def option_kind(key: str) -> OptionKind:
    if key not in OPTIONS:
        raise NotFound(f"There is no option {key}.")
    return OPTIONS[key]


def with_option(document: Document, key: str, option: Mapping[str, Any] | None) -> dict[str, Any]:
    """None: the policy says nothing of it."""
    option_kind(key)
    changed = deepcopy(dict(document))
    options = {name: held for name, held in changed.pop("options", {}).items() if name != key}
    if option is not None:
        options[key] = dict(option)
    return {**changed, "options": options} if options else changed


def choices_of(
    kind: OptionKind, categories: Iterable[PatientCategory]
) -> tuple[tuple[str, str], ...]:
    """Value and words of everything that can be chosen instead of typed."""
    if kind.kind == "yes-no":
        return ("yes", "yes"), ("no", "no")
    if kind.key == START_UP:
        return tuple((one.key, one.label) for one in categories)
    return tuple((word, {"mm[Hg]": "mmHg"}.get(word, word)) for word in kind.words)


def is_typed(kind: OptionKind) -> bool:
    """Whether a value can be typed: a number, or a word of the agency's own."""
    return kind.kind == "number" or not (
        kind.kind == "yes-no" or kind.words or kind.key == START_UP
    )


def check_number(kind: OptionKind, number: Decimal) -> None:
    if kind.unit == "%" and number > MOST_PERCENT:
        raise Refused.because(f"at most {MOST_PERCENT} %", column="value", value=str(number))


def findings_of_option(findings: Iterable[Finding], key: str) -> tuple[Finding, ...]:
    return tuple(
        one
        for one in findings
        if (one.rule == BOUND_BREACH.key and one.measured.get("option") == key)
        or (one.rule == NIBP_STALE.key and key == NIBP_INTERVAL)
    )
