"""The device models of a revision as they are typed, and as their pages show them."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, Field

from app.domain.by_hand import CategoryOnModel, by_hand_on
from app.domain.device_models import DeviceModel
from app.domain.errors import Fault, NotFound, Refused
from app.domain.findings import Finding
from app.domain.model_records import ModelRecord, disagreements
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.preset_proof import PresetProof, preset_proof
from app.domain.rendered_lines import PresetLines, in_order_of_age, preset_lines
from app.domain.revisions import StoredRevision
from app.domain.settings_of_alarms import as_number, show_number
from app.lookups.policy import OpenRevision
from app.lookups.policy_judged import judged
from app.web.grid_entry import GridRow, grid_rows
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import base_of, can_edit

UNITS = (("mm[Hg]", "mmHg"), ("kPa", "kPa"))
Word = Annotated[str, Field(max_length=2000)]  # how long a name may be, the policy says
_MINUTES = re.compile(r"\d{1,5}(\.\d{1,2})?", re.ASCII)


class ModelEntry(BaseModel):
    """As typed into any of the forms but the grid."""

    key: Word = ""
    etco2_unit: Word = ""
    retention_min: Word = ""
    name: Word = ""
    carries: Word = ""
    serves: Annotated[list[Word], Field(max_length=60)] = []
    edit_version: int = 0

    def unit(self) -> str:
        if self.etco2_unit not in dict(UNITS):
            raise Refused.because("choose one", column="etco2_unit")
        return self.etco2_unit

    def retention(self) -> int | float | None:
        """Minutes; None: nobody has tested it."""
        typed = self.retention_min.strip()
        if not typed:
            return None
        if _MINUTES.fullmatch(typed) is None:
            told = "write minutes as a number such as 2, or nothing"
            raise Refused.because(told, column="retention_min", value=typed)
        return as_number(Decimal(typed))

    def preset(self) -> tuple[str, dict[str, Any]]:
        """Its name, and the preset as a document holds it."""
        if not self.name.strip():
            raise Refused.because("write the name that the device shows", column="name")
        if not self.carries:
            raise Refused.because("choose one", column="carries")
        if not self.serves:
            raise Refused.because("choose at least one category", column="serves")
        return self.name.strip(), {"carries": self.carries, "serves": self.serves}


@dataclass(frozen=True)
class ListedModel:
    model: DeviceModel
    proof: PresetProof
    findings: tuple[Finding, ...]
    cannot: int


@dataclass(frozen=True)
class ModelsPage:
    base: str
    revision: StoredRevision
    can_edit: bool
    desk: Desk
    models: tuple[ListedModel, ...]
    typed: str = ""
    faults: tuple[Fault, ...] = ()


def models_page(
    found: OpenRevision, person: Person, *, typed: str = "", faults: tuple[Fault, ...] = ()
) -> ModelsPage:
    findings = judged(found).findings
    return ModelsPage(
        base_of(person, found.revision.number),
        found.revision,
        can_edit(found.revision, person),
        desk_of(found, findings, person),
        tuple(
            ListedModel(
                model,
                preset_proof(found.profile, model),
                findings_of_model(findings, model),
                sum(one.cannot for one in preset_lines(found.profile, model.key)),
            )
            for model in found.profile.models.values()
        ),
        typed,
        faults,
    )


def findings_of_model(findings: Iterable[Finding], model: DeviceModel) -> tuple[Finding, ...]:
    """What is found of the model by name, or of one of its presets that lends other values."""
    names = {f"{model.key} {preset.key}" for preset in model.presets}
    return tuple(
        one
        for one in findings
        if one.measured.get("model") == model.key
        or names & set(str(one.measured.get("preset", "")).split(", "))
    )


@dataclass(frozen=True)
class PresetForm:
    """`of` empty: a new one. `entry` is as it stands or was typed."""

    of: str
    entry: ModelEntry
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class ModelPage:
    base: str
    revision: StoredRevision
    can_edit: bool
    desk: Desk
    model: DeviceModel
    categories: tuple[PatientCategory, ...]
    proof: PresetProof
    findings: tuple[Finding, ...]
    rendered: tuple[PresetLines, ...]
    by_hand: tuple[CategoryOnModel, ...]
    facts: ModelEntry
    presets: tuple[PresetForm, ...]
    new: PresetForm
    grid: tuple[GridRow, ...]
    form: str = ""
    faults: tuple[Fault, ...] = ()
    units: tuple[tuple[str, str], ...] = UNITS
    record: ModelRecord | None = None

    @property
    def disagreements(self) -> tuple[str, ...]:
        """With what the register holds of the model."""
        return () if self.record is None else disagreements(self.record.facts, self.model)

    @property
    def here(self) -> str:
        return f"{self.base}/models/{self.model.key}"

    def wrong(self, form: str) -> tuple[Fault, ...]:
        return self.faults if form == self.form else ()


def model_of(found: OpenRevision, key: str) -> DeviceModel:
    model = found.profile.models.get(key)
    if model is None:
        number = found.revision.number
        raise NotFound(f"There is no device model {key} in revision {number}.")
    return model


def model_page(found: OpenRevision, person: Person, key: str) -> ModelPage:
    """Raises NotFound."""
    model, profile = model_of(found, key), found.profile
    held = "" if model.retention_min is None else show_number(model.retention_min)
    return ModelPage(
        base=base_of(person, found.revision.number),
        revision=found.revision,
        can_edit=can_edit(found.revision, person),
        desk=desk_of(found, judged(found).findings, person),
        model=model,
        categories=tuple(sorted(profile.categories, key=lambda one: one.span.start)),
        proof=preset_proof(profile, model),
        findings=findings_of_model(judged(found).findings, model),
        rendered=preset_lines(profile, key),
        by_hand=by_hand_on(profile, key),
        facts=ModelEntry(etco2_unit=model.etco2_unit, retention_min=held),
        presets=tuple(
            PresetForm(
                one.key, ModelEntry(name=one.key, carries=one.carries, serves=list(one.serves))
            )
            for one in in_order_of_age(profile, model.presets)
        ),
        new=PresetForm("", ModelEntry()),
        grid=grid_rows(model),
    )


def with_typed(
    page: ModelPage, form: str, entry: ModelEntry, faults: tuple[Fault, ...], of: str
) -> ModelPage:
    """What was typed stays in the form that was sent: `facts`, `preset` or `new`."""
    told = replace(page, form=form, faults=faults)
    if form == "facts":
        return replace(told, facts=entry)
    if form == "new":
        return replace(told, new=PresetForm("", entry, faults))
    presets = tuple(PresetForm(of, entry, faults) if p.of == of else p for p in page.presets)
    return replace(told, presets=presets)


def with_typed_grid(
    page: ModelPage, typed: Mapping[str, str], faults: tuple[Fault, ...]
) -> ModelPage:
    return replace(page, form="grid", faults=faults, grid=grid_rows(page.model, typed))
