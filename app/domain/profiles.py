"""A named policy at one numbered revision, its canonical form and its fingerprint."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

import rfc8785

from app.domain.device_models import DeviceModel
from app.domain.patient_categories import PatientCategory
from app.domain.settings_of_alarms import Setting

Document = Mapping[str, object]
Settings = Mapping[str, Setting]


def fingerprint(document: Document) -> str:
    """SHA-256, in hex, of the RFC 8785 form of the parsed document."""
    return hashlib.sha256(rfc8785.dumps(dict(document))).hexdigest()  # type: ignore[arg-type]


@dataclass(frozen=True)
class Circumstance:
    """A signed overlay: the alarms it names replace those of the categories it applies to."""

    key: str
    label: str
    applies_to: tuple[str, ...]
    settings: Settings


@dataclass(frozen=True)
class Option:
    """A setting that is no alarm, such as the longest pause."""

    value: Decimal | str | bool
    reason: str = ""
    source: str = ""


@dataclass(frozen=True)
class Profile:
    """`settings` maps category key, then alarm key, to the setting; a missing alarm is a blank."""

    agency: str
    name: str
    revision: int
    categories: tuple[PatientCategory, ...]
    settings: Mapping[str, Settings]
    circumstances: tuple[Circumstance, ...] = ()
    options: Mapping[str, Option] = field(default_factory=dict)
    models: Mapping[str, DeviceModel] = field(default_factory=dict)
    document: Document = field(default_factory=dict)

    @cached_property
    def fingerprint(self) -> str:
        """Empty for a profile that was never a document."""
        return fingerprint(self.document) if self.document else ""

    def category(self, key: str) -> PatientCategory | None:
        return next((category for category in self.categories if category.key == key), None)

    def of_category(self, key: str) -> Settings:
        return self.settings.get(key, {})

    def overlaid(self, key: str, circumstance: Circumstance) -> Settings:
        return {**self.of_category(key), **circumstance.settings}

    def circumstances_of(self, category: str) -> list[Circumstance]:
        return [one for one in self.circumstances if category in one.applies_to]

    def number_option(self, key: str) -> Decimal | None:
        option = self.options.get(key)
        number = option.value if option else None
        return number if isinstance(number, Decimal) else None


def settings_in(profile: Profile, category: str, circumstance: str) -> Settings:
    """Of a category in a circumstance; the plain ones where the policy offers none such."""
    for one in profile.circumstances_of(category):
        if one.key == circumstance:
            return profile.overlaid(category, one)
    return profile.of_category(category)
