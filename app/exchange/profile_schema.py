"""The profile file as pydantic models: its JSON schema, and what each key may hold.

Strict: no text for a number, no unknown key, no NaN.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

FORMAT = "marchstone-profile/1"
Key = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
PresetName = Annotated[str, Field(min_length=1, max_length=60)]
Words = Annotated[str, Field(max_length=4000)]
Label = Annotated[str, Field(min_length=1, max_length=120)]
AgeText = Annotated[str, Field(description="such as '28 d', '4.5 mo' or '16 y'", max_length=20)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Seconds = Annotated[float, Field(ge=0, le=600, allow_inf_nan=False)]
PriorityWord = Literal["high", "medium", "low"]


class _Strict(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


class CategoryFile(_Strict):
    key: Key
    label: Label
    from_: AgeText = Field(alias="from")
    to: AgeText | None


class DeepLineFile(_Strict):
    limit: Number
    unit: str | None = None
    priority: PriorityWord | None = None
    delay_s: Seconds | None = None


class LatitudeFile(_Strict):
    from_: Number | None = Field(default=None, alias="from")
    to: Number | None = None
    off_by: Literal["nobody", "crew", "medical-control"] = "nobody"


class _Explained(_Strict):
    reason: Words = ""
    source: Words = ""


class OnFile(_Explained):
    state: Literal["on"]
    limit: Number | None = None
    unit: str | None = None
    priority: PriorityWord | None = None
    delay_s: Seconds | None = None
    latching: bool | None = None
    deep: DeepLineFile | None = None
    latitude: LatitudeFile | None = None


class OffFile(_Explained):
    state: Literal["off"]
    latitude: LatitudeFile | None = None


class NotFittedFile(_Explained):
    state: Literal["not-fitted"]


class NoPolicyFile(_Explained):
    state: Literal["no-policy"]


SettingFile = Annotated[
    OnFile | OffFile | NotFittedFile | NoPolicyFile, Field(discriminator="state")
]


class CircumstanceFile(_Strict):
    key: Key
    label: Label | None = None
    applies_to: list[Key]
    settings: dict[Key, SettingFile]


class OptionFile(_Explained):
    value: Number | bool | Words


class PresetFile(_Strict):
    carries: Key
    serves: list[Key] | None = None


class GridFile(_Strict):
    from_: Number = Field(alias="from")
    to: Number
    step: Annotated[float, Field(ge=0.0001)]  # far finer than any device; a tinier one overflows
    can_be_off: bool = True


class ModelFile(_Strict):
    presets: dict[PresetName, PresetFile] = Field(default_factory=dict)
    grid: dict[Key, GridFile] = Field(default_factory=dict)
    etco2_unit: Literal["mm[Hg]", "kPa"] = "mm[Hg]"
    retention_min: Annotated[float, Field(ge=0)] | None = None


class ProfileFile(_Strict):
    model_config = ConfigDict(title="Marchstone profile", strict=True, extra="forbid")

    format: Literal["marchstone-profile/1"]
    agency: Label
    profile: Label
    revision: Annotated[int, Field(ge=1, le=1_000_000)]
    categories: Annotated[list[CategoryFile], Field(min_length=1, max_length=40)]
    settings: dict[Key, dict[Key, SettingFile]]
    circumstances: list[CircumstanceFile] = Field(default_factory=list)
    options: dict[Key, OptionFile] = Field(default_factory=dict)
    models: dict[Key, ModelFile] = Field(default_factory=dict)


def profile_schema() -> dict[str, Any]:
    return ProfileFile.model_json_schema(by_alias=True)
