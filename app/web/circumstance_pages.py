"""The circumstances of a revision as they are typed, and as their pages show them."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, Field

from app.domain.errors import Fault, NotFound, Refused
from app.domain.findings import Finding
from app.domain.known_circumstances import KNOWN_CIRCUMSTANCES
from app.domain.overlays import OverlaidAlarm, findings_under, overlaid_alarms
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.profiles import Circumstance
from app.domain.revisions import StoredRevision
from app.domain.scheme_proof import SchemeProof, scheme_proof
from app.domain.settings_of_alarms import Setting
from app.lookups.policy import OpenRevision
from app.lookups.policy_judged import judged
from app.web.policy_desk import Desk, desk_of
from app.web.policy_grid import Cell
from app.web.policy_pages import base_of, can_edit

Word = Annotated[str, Field(max_length=2000)]  # how long a name may be, the policy says


class CircumstanceEntry(BaseModel):
    """As typed. `known` is one of the trade's, `key` the agency's own; `applies_to` holds keys of
    categories, each alone or several with commas between."""

    known: Word = ""
    key: Word = ""
    label: Word = ""
    applies_to: Annotated[list[Annotated[str, Field(max_length=3000)]], Field(max_length=60)] = []
    edit_version: int = 0

    @property
    def reached(self) -> list[str]:
        return [key for keys in self.applies_to for key in keys.split(",") if key]

    def checked_reach(self) -> list[str]:
        if not self.reached:
            raise Refused.because("choose at least one category", column="applies_to")
        return self.reached

    def new_key(self) -> str:
        """Raises Refused unless exactly one of both says which circumstance it is."""
        known, own = self.known.strip(), self.key.strip()
        if bool(known) == bool(own):
            told = "choose a known one or write a key of your own, not both"
            raise Refused.because(told, column="key" if known else "known")
        return known or own

    def new_label(self) -> str:
        return self.label.strip() or KNOWN_CIRCUMSTANCES.get(self.known.strip(), "")


@dataclass(frozen=True)
class Overlay:
    """One circumstance, what it changes and what the rules find under it."""

    circumstance: Circumstance
    reached: tuple[PatientCategory, ...]
    any_category: PatientCategory  # a cell of the grid needs one, and its words do not tell it
    alarms: tuple[OverlaidAlarm, ...]
    findings: tuple[Finding, ...]

    @property
    def key(self) -> str:
        return self.circumstance.key

    @property
    def changed(self) -> tuple[OverlaidAlarm, ...]:
        return tuple(one for one in self.alarms if one.overlay is not None)

    @property
    def unchanged(self) -> tuple[OverlaidAlarm, ...]:
        return tuple(one for one in self.alarms if one.overlay is None)

    def cell(self, alarm: OverlaidAlarm, setting: Setting | None) -> Cell:
        """A setting in the words of the grid."""
        return Cell(self.any_category, alarm.alarm, setting, (), (), None)


@dataclass(frozen=True)
class CircumstancesPage:
    """All of them; `entry` and `faults` belong to the form that adds one."""

    base: str
    revision: StoredRevision
    categories: tuple[PatientCategory, ...]
    overlays: tuple[Overlay, ...]
    proof: SchemeProof
    desk: Desk
    can_edit: bool
    entry: CircumstanceEntry
    faults: tuple[Fault, ...] = ()

    @property
    def known(self) -> dict[str, str]:
        """Those of the trade that the policy does not have yet."""
        held = {overlay.key for overlay in self.overlays}
        return {key: label for key, label in KNOWN_CIRCUMSTANCES.items() if key not in held}


@dataclass(frozen=True)
class CircumstancePage:
    """One of them; `entry` as it stands or as it was typed."""

    base: str
    revision: StoredRevision
    categories: tuple[PatientCategory, ...]
    overlay: Overlay
    desk: Desk
    can_edit: bool
    entry: CircumstanceEntry
    faults: tuple[Fault, ...] = ()


def overlay_of(found: OpenRevision, circumstance: Circumstance) -> Overlay:
    profile = found.profile
    return Overlay(
        circumstance,
        tuple(one for one in profile.categories if one.key in circumstance.applies_to),
        profile.categories[0],
        overlaid_alarms(profile, circumstance),
        findings_under(judged(found).findings, circumstance.key),
    )


def circumstances_page(found: OpenRevision, person: Person) -> CircumstancesPage:
    profile = found.profile
    return CircumstancesPage(
        base_of(person, found.revision.number),
        found.revision,
        profile.categories,
        tuple(overlay_of(found, one) for one in profile.circumstances),
        scheme_proof(profile.categories),
        desk_of(found, judged(found).findings, person),
        can_edit(found.revision, person),
        CircumstanceEntry(),
    )


def circumstance_page(found: OpenRevision, person: Person, key: str) -> CircumstancePage:
    held = held_circumstance(found, key)
    return CircumstancePage(
        base_of(person, found.revision.number),
        found.revision,
        found.profile.categories,
        overlay_of(found, held),
        desk_of(found, judged(found).findings, person),
        can_edit(found.revision, person),
        CircumstanceEntry(label=held.label, applies_to=list(held.applies_to)),
    )


def held_circumstance(found: OpenRevision, key: str) -> Circumstance:
    for circumstance in found.profile.circumstances:
        if circumstance.key == key:
            return circumstance
    raise NotFound(f"There is no circumstance {key}.")
