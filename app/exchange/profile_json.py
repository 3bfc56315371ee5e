"""The profile file ⇄ domain objects. What parses is whole; what does not is told by place."""

from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any, NoReturn

from pydantic import ValidationError

from app.domain.ages import Age, AgeSpan
from app.domain.device_models import DeviceModel, Grid, Preset
from app.domain.errors import Fault, Refused
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Circumstance, Option, Profile
from app.domain.settings_of_alarms import (
    DeepLine,
    Latitude,
    NoPolicy,
    NotFitted,
    Off,
    On,
    Priority,
    Setting,
)
from app.exchange import profile_schema as file
from app.exchange.json_text import Path, PlacedDocument, decode_text, parse
from app.exchange.profile_faults import Complaint, complaints, in_words
from app.exchange.profile_texts import text_complaints

MOST_FAULTS = 100


def read_profile(raw: bytes) -> Profile:
    return parse_profile(decode_text(raw))


def parse_profile(text: str) -> Profile:
    """Raises Refused with the line and column of everything that is wrong."""
    return profile_in(parse(text))


def profile_from_document(document: dict[str, Any]) -> Profile:
    """As parse_profile, for a document that has no text; faults then name the path."""
    return profile_in(PlacedDocument(document, ""))


def profile_in(placed: PlacedDocument) -> Profile:
    """As parse_profile, for whoever knows the places of the parts."""
    profile = _whole(placed)
    refuse_unreadable(placed)
    return profile


def kept_profile(document: dict[str, Any]) -> Profile:
    """One that is stored already: its texts are as they were signed."""
    return _whole(PlacedDocument(document, ""))


def refuse_unreadable(placed: PlacedDocument) -> None:
    """Where a text would not be read as it is stored."""
    if wrong := list(text_complaints(placed.value)):
        _refuse(placed, wrong)


def _whole(placed: PlacedDocument) -> Profile:
    try:
        checked = file.ProfileFile.model_validate(placed.value)
    except ValidationError as error:
        _refuse(placed, _one_a_place(in_words(placed.value, told) for told in error.errors()))
    wrong = list(complaints(checked))
    if wrong:
        _refuse(placed, wrong)
    return _profile(checked, placed.value)


def _one_a_place(told: Iterable[Complaint]) -> list[Complaint]:
    """Where a value may be of several kinds, each kind complains: joined into one."""
    found: dict[Path, Complaint] = {}
    for path, reason, value in told:
        before = found.get(path)
        joined = f"{before[1]} or {reason.removeprefix('must be ')}" if before else reason
        found[path] = (path, joined, value)
    return list(found.values())


def _refuse(placed: PlacedDocument, wrong: list[Complaint]) -> NoReturn:
    faults = [_fault(placed, complaint) for complaint in wrong[:MOST_FAULTS]]
    if len(wrong) > MOST_FAULTS:
        faults.append(Fault(f"and {len(wrong) - MOST_FAULTS} more"))
    raise Refused(faults)


def _fault(placed: PlacedDocument, complaint: Complaint) -> Fault:
    path, reason, value = complaint
    if not placed.text:
        return Fault(reason, column=" / ".join(map(str, path)) or None, value=value)
    where = " / ".join(map(str, path))
    return placed.fault(path, f"{where}: {reason}" if where else reason, value)


def _profile(checked: file.ProfileFile, document: dict[str, Any]) -> Profile:
    return Profile(
        agency=checked.agency,
        name=checked.profile,
        revision=checked.revision,
        categories=tuple(map(_category, checked.categories)),
        settings={key: _settings(settings) for key, settings in checked.settings.items()},
        circumstances=tuple(
            Circumstance(c.key, c.label or c.key, tuple(c.applies_to), _settings(c.settings))
            for c in checked.circumstances
        ),
        options={key: _option(option) for key, option in checked.options.items()},
        models={key: _model(key, model) for key, model in checked.models.items()},
        document=document,
    )


def _category(category: file.CategoryFile) -> PatientCategory:
    end = Age.parse(category.to) if category.to is not None else None
    return PatientCategory(category.key, category.label, AgeSpan(Age.parse(category.from_), end))


def _decimal(number: float | None) -> Decimal | None:
    return None if number is None else exact(number)


def exact(number: float) -> Decimal:
    """The decimal as written: 37.5 stays 37.5."""
    return Decimal(repr(number))


def _settings(settings: dict[str, Any]) -> dict[str, Setting]:
    return {key: _SETTING[type(setting)](setting) for key, setting in settings.items()}


def _on(on: file.OnFile) -> On:
    return On(
        limit=_decimal(on.limit),
        priority=Priority(on.priority) if on.priority else None,
        delay_s=_decimal(on.delay_s),
        latching=on.latching,
        deep=_deep(on.deep),
        latitude=_latitude(on.latitude),
        unit=on.unit,
        reason=on.reason,
        source=on.source,
    )


def _deep(deep: file.DeepLineFile | None) -> DeepLine | None:
    if deep is None:
        return None
    priority = Priority(deep.priority) if deep.priority else None
    return DeepLine(exact(deep.limit), priority, _decimal(deep.delay_s), deep.unit)


def _latitude(latitude: file.LatitudeFile | None) -> Latitude | None:
    if latitude is None:
        return None
    return Latitude(_decimal(latitude.from_), _decimal(latitude.to), latitude.off_by)


_SETTING: dict[type, Callable[[Any], Setting]] = {
    file.OnFile: _on,
    file.OffFile: lambda off: Off(off.reason, off.source, _latitude(off.latitude)),
    file.NotFittedFile: lambda none: NotFitted(none.reason, none.source),
    file.NoPolicyFile: lambda none: NoPolicy(none.reason, none.source),
}


def _option(option: file.OptionFile) -> Option:
    value = option.value
    plain = value if isinstance(value, str | bool) else exact(value)
    return Option(plain, option.reason, option.source)


def _model(key: str, model: file.ModelFile) -> DeviceModel:
    return DeviceModel(
        key=key,
        presets=tuple(
            Preset(name, preset.carries, tuple(preset.serves or [preset.carries]))
            for name, preset in model.presets.items()
        ),
        grid={
            alarm: Grid(exact(g.from_), exact(g.to), exact(g.step), g.can_be_off)
            for alarm, g in model.grid.items()
        },
        etco2_unit=model.etco2_unit,
        retention_min=_decimal(model.retention_min),
    )
