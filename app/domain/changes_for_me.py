"""What a new revision changes for one crew: in its categories, on its device, at its station."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.patient_categories import PatientCategory
from app.domain.redline import Change, Redline
from app.domain.redline_ages import Hand
from app.domain.redline_models import ModelChange


@dataclass(frozen=True)
class ChangesForMe:
    """`changes`: the gravest first. `hands`: ages that another category holds from now on."""

    changes: tuple[Change, ...]
    hands: tuple[Hand, ...]
    models: tuple[ModelChange, ...]

    @property
    def empty(self) -> bool:
        return not (self.changes or self.hands or self.models)


def changes_for_me(
    redline: Redline, *, category: PatientCategory | None = None, model: str = ""
) -> ChangesForMe:
    """None and "" leave out nothing. What only its words differ in changes nothing for a crew."""
    return ChangesForMe(
        changes=tuple(
            change
            for change in redline.changes
            if not change.words_only and _concerns(change, category)
        ),
        hands=tuple(hand for hand in redline.hands if _touches(hand, category)),
        models=tuple(_models(redline, model)),
    )


def _concerns(change: Change, category: PatientCategory | None) -> bool:
    """An option of the device holds at every age."""
    if category is None or change.ages is None:
        return True
    return change.ages.meet(category.span) is not None


def _touches(hand: Hand, category: PatientCategory | None) -> bool:
    if category is None:
        return True
    return any(one is not None and one.key == category.key for one in (hand.before, hand.after))


def _models(redline: Redline, model: str) -> Iterator[ModelChange]:
    yield from (one for one in redline.models if model in ("", one.model))
