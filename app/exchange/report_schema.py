"""One row of a device-report file, as the published schema tells it."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Text = Annotated[str, Field(max_length=200)]
Filled = Annotated[str, Field(min_length=1, max_length=200)]


class ReportRow(BaseModel):
    """A CSV row; every cell is text, an empty optional cell is not compared."""

    model_config = ConfigDict(title="Marchstone device report, one reading a row", extra="forbid")

    device: Filled
    read_at: Filled = Field(description="ISO 8601 with a zone, such as 2026-03-01T08:00:00Z")
    state_read: Literal["power-on", "after-category", "in-use", "stored-preset"]
    preset: Filled = Field(description="a preset of the device's model; * for an option")
    alarm: Filled = Field(description="an alarm condition, <alarm>.deep, or an option's key")
    reading: Filled = Field(description="a number, on, off, not-fitted or could-not-read: why")
    unit: Text = Field(default="", description="UCUM; empty: the unit that the model shows")
    priority: Literal["", "high", "medium", "low"] = ""
    delay_s: Text = ""
    latching: Literal["", "true", "false"] = ""
    model: Text = ""
    reader: Text = ""
    software: Text = ""
    trigger: Text = ""
    minutes_off: Text = ""
    device_clock: Text = ""
