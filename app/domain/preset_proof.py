"""Whether every category reaches exactly one preset of a model, told by what it means."""

from dataclasses import dataclass

from app.domain.ages import AgeSpan, years
from app.domain.device_models import DeviceModel, Preset
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile

_GROWN = years(20)  # how far into an open category its example lies


@dataclass(frozen=True)
class Served:
    """One category and the presets of a model that serve it: one is right."""

    category: PatientCategory
    presets: tuple[str, ...]
    words: str = ""  # empty where it is right


@dataclass(frozen=True)
class PresetProof:
    """`remarks`: what holds, but must be seen by whoever signs."""

    model: str
    served: tuple[Served, ...]
    remarks: tuple[str, ...]

    @property
    def faults(self) -> tuple[Served, ...]:
        return tuple(one for one in self.served if one.words)

    @property
    def holds(self) -> bool:
        return not self.faults


def preset_proof(profile: Profile, model: DeviceModel) -> PresetProof:
    """Of a model without presets every category is its own preset."""
    if not model.presets:
        served = tuple(Served(one, (one.key,)) for one in profile.categories)
        return PresetProof(model.key, served, (f"{model.key} has no presets of its own.",))
    return PresetProof(
        model.key,
        tuple(_served(one, model) for one in profile.categories),
        tuple(said for one in model.presets for said in _remarks(one, profile)),
    )


def _served(category: PatientCategory, model: DeviceModel) -> Served:
    presets = tuple(one.key for one in model.presets if category.key in one.serves)
    who = example(category.span)
    words = ""
    if not presets:
        words = f"{who} on a {model.key} has no preset ({category.label}, {category.span})."
    elif len(presets) > 1:
        told = f"{', '.join(presets[:-1])} and {presets[-1]}"
        words = f"{who} on a {model.key} has {len(presets)} presets, {told}: which one holds?"
    return Served(category, presets, words)


def _remarks(preset: Preset, profile: Profile) -> list[str]:
    label = {one.key: one.label for one in profile.categories}
    told = []
    if preset.carries not in preset.serves:
        carried = label.get(preset.carries, preset.carries)
        told.append(f"{preset.key} carries the values of {carried} but does not serve it.")
    apart = parts([one.span for one in profile.categories if one.key in preset.serves])
    if len(apart) > 1:
        ages = " and ".join(map(str, apart))
        told.append(
            f"{preset.key} serves ages that do not touch: {ages}. The policy is judged over each "
            "of them; what is read on a device is judged over the ages between them as well."
        )
    return told


def parts(spans: list[AgeSpan]) -> list[AgeSpan]:
    """The spans joined wherever they touch or overlap, youngest first."""
    joined: list[AgeSpan] = []
    for span in sorted(spans, key=lambda one: one.start):
        last = joined[-1] if joined else None
        if last is not None and span.start <= last.stop:
            end = last.end if span.stop <= last.stop else span.end
            joined[-1] = AgeSpan(last.start, end)
        else:
            joined.append(span)
    return joined


def example(span: AgeSpan) -> str:
    """Somebody of these ages: `A 7-month-old`."""
    stop = span.stop if span.end is not None else max(_GROWN, span.start)
    middle = (span.start.days + stop.days) / 2
    for unit, length in (("year", years(1).days), ("month", years(1).days / 12)):
        amount = int(middle / length)
        if amount >= 2 and span.start.days <= amount * length < span.stop.days:
            return f"{_article(amount)} {amount}-{unit}-old"
    return f"{_article(int(middle))} {int(middle)}-day-old"


def _article(amount: int) -> str:
    return "An" if str(amount).startswith("8") or amount in (11, 18) else "A"
