"""One option as it is typed into its form, and as the document holds it."""

import re
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, Field

from app.domain.errors import Refused
from app.domain.option_edits import check_number, is_typed
from app.domain.options import OptionKind
from app.domain.profiles import Option
from app.domain.settings_of_alarms import as_number, show_number

UNSET, TYPED = "unset", "typed"
_NUMBER = re.compile(r"\d{1,5}(\.\d{1,3})?", re.ASCII)
Short = Annotated[str, Field(max_length=60)]
Words = Annotated[str, Field(max_length=4000)]


class OptionEntry(BaseModel):
    """`choice` is `unset`, `typed` (then `value` holds it), or one of the option's own words."""

    choice: Short = ""
    value: Short = ""
    reason: Words = ""
    source: Words = ""
    edit_version: int = 0

    def option(self, kind: OptionKind, words: tuple[str, ...]) -> dict[str, Any] | None:
        """None: the policy says nothing of it. Raises Refused with the field as column."""
        if self.choice == UNSET:
            return None
        if self.choice not in words and not (self.choice == TYPED and is_typed(kind)):
            raise Refused.because("choose one", column="choice")
        explained = {
            key: text for key in ("reason", "source") if (text := getattr(self, key).strip())
        }
        return {"value": self._value(kind), **explained}

    def _value(self, kind: OptionKind) -> int | float | bool | str:
        if kind.kind == "yes-no":
            return self.choice == "yes"
        if self.choice != TYPED:
            return self.choice
        typed = self.value.strip()
        if kind.kind == "word":
            if not typed:
                raise Refused.because("write it", column="value")
            return typed
        if _NUMBER.fullmatch(typed) is None:
            raise Refused.because("write a number such as 120", column="value", value=typed)
        number = Decimal(typed)
        check_number(kind, number)
        return as_number(number)


def option_entry(option: Option | None, words: tuple[str, ...]) -> OptionEntry:
    """As it stands; what nobody set comes back as not set, and with nothing filled in."""
    if option is None:
        return OptionEntry(choice=UNSET)
    value, choice = option.value, TYPED
    written = show_number(value) if isinstance(value, Decimal) else str(value)
    if isinstance(value, bool):
        choice = "yes" if value else "no"
    elif written in words:
        choice = written
    typed = written if choice == TYPED else ""
    return OptionEntry(choice=choice, value=typed, reason=option.reason, source=option.source)
