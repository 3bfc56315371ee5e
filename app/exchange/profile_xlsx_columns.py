"""The sheets of a profile's workbook: one sheet a noun, one column a key, for writer and reader.

An empty cell leaves a key out.
"""

from dataclasses import dataclass
from typing import Literal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.settings_of_alarms import Priority

Kind = Literal["text", "number", "yes-no", "list", "any"]
Path = tuple[str, ...]


@dataclass(frozen=True)
class Column:
    """`path` is where the value stands within its entry; `choices` are offered by the sheet."""

    name: str
    path: Path
    kind: Kind = "text"
    width: int = 14
    choices: tuple[str, ...] = ()
    hint: str = ""


@dataclass(frozen=True)
class Sheet:
    """`names` are the columns that say which entry a row is; the rest say what it holds."""

    name: str
    names: tuple[Column, ...]
    columns: tuple[Column, ...]
    hint: str = ""

    @property
    def all(self) -> tuple[Column, ...]:
        return (*self.names, *self.columns)


STATES = ("on", "off", "not-fitted", "no-policy")
PRIORITIES = tuple(priority.value for priority in Priority)
YES_NO = ("yes", "no")
OFF_BY = ("nobody", "crew", "medical-control")
ALARMS = tuple(ALARM_CONDITIONS)

_CATEGORY = Column("category", ("category",), width=16, hint="its key on the sheet Categories")
_ALARM = Column("alarm", ("alarm",), width=28, hint="what can sound")
_REASON = Column("reason", ("reason",), width=60)
_SOURCE = Column("source", ("source",), width=44)
_SETTING = (
    Column("state", ("state",), choices=STATES, hint="empty: nothing is said yet, a blank"),
    Column("limit", ("limit",), "number", 9, hint="a number with a point, such as 37.5"),
    Column("unit", ("unit",), width=9, hint="empty: the vital sign's own"),
    Column("priority", ("priority",), width=10, choices=PRIORITIES),
    Column("delay_s", ("delay_s",), "number", 9, hint="seconds"),
    Column("latching", ("latching",), "yes-no", 10, YES_NO),
    Column("deep limit", ("deep", "limit"), "number", 11, hint="a second, further limit"),
    Column("deep unit", ("deep", "unit"), width=10),
    Column("deep priority", ("deep", "priority"), width=13, choices=PRIORITIES),
    Column("deep delay_s", ("deep", "delay_s"), "number", 13, hint="seconds"),
    Column("latitude from", ("latitude", "from"), "number", 14, hint="what a crew may set"),
    Column("latitude to", ("latitude", "to"), "number", 12),
    Column(
        "off by", ("latitude", "off_by"), width=16, choices=OFF_BY, hint="who may switch it off"
    ),
    _REASON,
    _SOURCE,
)

CATEGORIES = Sheet(
    "Categories",
    (Column("key", ("key",), width=18),),
    (
        Column("label", ("label",), width=24),
        Column("from", ("from",), hint="an age: 0 d, 4.5 mo, 16 y"),
        Column("to", ("to",), hint="an age; empty: no upper end"),
    ),
)
SETTINGS = Sheet("Settings", (_CATEGORY, _ALARM), _SETTING)
CIRCUMSTANCES = Sheet(
    "Circumstances",
    (Column("key", ("key",), width=24),),
    (
        Column("label", ("label",), width=30),
        Column("applies to", ("applies_to",), "list", 40, hint="keys of categories, with commas"),
    ),
)
OVERLAYS = Sheet(
    "Circumstance settings",
    (Column("circumstance", ("circumstance",), width=24), _ALARM),
    _SETTING,
)
OPTIONS = Sheet(
    "Options",
    (Column("option", ("option",), width=26),),
    (Column("value", ("value",), "any", 16), _REASON, _SOURCE),
)
_MODEL = Column("model", ("model",), width=18)
MODELS = Sheet(
    "Models",
    (_MODEL,),
    (
        Column("etco2 unit", ("etco2_unit",), width=12, choices=("mm[Hg]", "kPa")),
        Column("retention_min", ("retention_min",), "number", hint="minutes off until it forgets"),
    ),
)
PRESETS = Sheet(
    "Presets",
    (_MODEL, Column("preset", ("preset",), width=24)),
    (
        Column("carries", ("carries",), width=18, hint="the category whose limits it holds"),
        Column("serves", ("serves",), "list", 40, hint="keys of categories, with commas"),
    ),
)
GRIDS = Sheet(
    "Grids",
    (_MODEL, _ALARM),
    (
        Column("from", ("from",), "number", 10),
        Column("to", ("to",), "number", 10),
        Column("step", ("step",), "number", 10),
        Column("can be off", ("can_be_off",), "yes-no", 12, YES_NO),
    ),
)
SHEETS = (
    CATEGORIES,
    SETTINGS,
    CIRCUMSTANCES,
    OVERLAYS,
    OPTIONS,
    MODELS,
    PRESETS,
    GRIDS,
)
ABOUT = "About"
ABOUT_KEYS = ("format", "agency", "profile", "revision")
EDIT_VERSION = "edit version"
