"""What `marchstone bands` and the API tell of band advice: the shapes alone, which cost nothing."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class BandShape(_Shape):
    ages: list[str | None] = Field(description="From and to.")
    low: int | float | None = Field(description="None: no such limit, or no advice on this side.")
    high: int | float | None
    mark: str = Field(description="By which this band is confirmed.")


class PlanShape(_Shape):
    bands: list[BandShape]
    worst: float = Field(description="Points of the costliest month.")
    worst_age: str
    mean: float = Field(description="Points, over all months.")
    arrival_worst: float = Field(description="Share of healthy people, 0 to 1.")
    arrival_mean: float
    danger: float = Field(description="Widest silence, in units of the vital sign.")
    caution: float


class BandsShape(_Shape):
    model_config = ConfigDict(title="Result of marchstone bands", extra="forbid")
    vital_sign: str
    aim: Literal["worst", "mean"]
    danger_points: float
    caution_points: float
    ages: list[str | None]
    source: str
    bounds: str
    models: list[str] = Field(description="Those whose grids decide what can be set.")
    not_advised: list[Literal["low", "high"]]
    today: PlanShape | None
    best: list[PlanShape] = Field(description="For at most 1, 2 … 8 bands.")
