"""What a file of readings is held against: the agency's devices, and its policies over time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from app.domain.agency_choices import AgencyChoices
from app.domain.bounds_versions import BoundsVersion, in_force_among
from app.domain.column_maps import ColumnMap
from app.domain.fleet import EVERY_ALARM
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.rendering import rendered_presets
from app.domain.revisions import RevisionLine
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile


@dataclass(frozen=True)
class KnownFleet:
    """The model of every device of an agency, its policies that ever came into force, all of its
    outer bounds, its choices of today, and how it reads files of other systems. Two are equal
    where they judge alike."""

    models: Mapping[str, str]
    policies: Sequence[tuple[RevisionLine, str]]
    versions: Sequence[BoundsVersion] = ()
    choices: AgencyChoices = EVERY_ALARM
    maps: Sequence[ColumnMap] = ()

    def line_at(self, at: datetime) -> RevisionLine | None:
        return next((line for line, _ in self.policies if line.holds_at(at)), None)

    def document_at(self, at: datetime) -> str | None:
        return next((text for line, text in self.policies if line.holds_at(at)), None)

    def profile_at(self, at: datetime) -> Profile | None:
        document = self.document_at(at)
        return None if document is None else stored_profile(document)

    def bounds_at(self, at: datetime) -> OuterBounds:
        return stored_bounds(in_force_among(self.versions, at))

    def presets_at(self, at: datetime, model: str) -> tuple[str, ...] | None:
        """Those that the model has; None: no policy was in force."""
        document = self.document_at(at)
        return None if document is None else _presets(document, model)


@lru_cache(maxsize=64)
def _presets(document: str, model: str) -> tuple[str, ...]:
    return tuple(rendered_presets(stored_profile(document), model))
