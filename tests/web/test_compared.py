from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest

from app.domain.ages import AgeSpan, years
from app.domain.comparison import Deviation, Direction
from app.domain.device_models import DeviceModel
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Origin,
    Reading,
    StateRead,
)
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.profiles import Option
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import DeepLine, NoPolicy, Off, On, Priority, Setting
from app.lookups.judged import Line, ReportPage
from app.web.compared import ComparedLine, compared, in_order

NOW = datetime(2026, 3, 2, tzinfo=UTC)
LOOSER, OFF_PROTOCOL = Direction.LOOSER, Severity.OFF_PROTOCOL
KPA = DeviceModel("dunlin", (), etco2_unit="kPa")


def on(limit: str | None, unit: str | None = None) -> FoundOn:
    return FoundOn(None if limit is None else Decimal(limit), unit)


def signed(limit: str | None, **more: Any) -> On:
    return On(None if limit is None else Decimal(limit), **more)


def page_of(
    *lines: Line, settings: dict[str, Setting] | None = None, model: DeviceModel | None = None
) -> ReportPage:
    report = StoredReport(
        1, "boat-3", "dunlin", "CHILD", StateRead.POWER_ON, NOW, NOW, 1, "Femi", "", "", None, 1,
        {line.alarm: line.found for line in lines}, {}, Origin.FORM, "", "",
    )  # fmt: skip
    ages = AgeSpan(years(1), years(5))
    held = settings or {
        line.alarm: line.signed
        for line in lines
        if line.signed is not None and not isinstance(line.signed, Option)
    }
    rendered = RenderedPreset("CHILD", "child", ("child",), ages, held, model)
    return ReportPage(report, rendered, lines)


@pytest.mark.parametrize(
    ("state", "found", "verdict"),
    [
        (StateRead.IN_USE, on("90"), "holds"),
        (StateRead.IN_USE, on("88"), "tailored"),  # no deviation was kept: within the latitude
        (StateRead.IN_USE, NotRead(), "not read"),
        (StateRead.POWER_ON, on("90"), "holds"),
    ],
)
def test_in_use_what_a_crew_may_change_is_tailored(
    state: StateRead, found: Reading, verdict: str
) -> None:
    page = page_of(Line("spo2-low", signed("90"), found))
    report = compared(replace(page, report=replace(page.report, state_read=state)))

    assert report.lines[0].verdict == verdict


@pytest.mark.parametrize(
    ("minutes_off", "pause", "counts"),
    [
        (3, "", True),
        (None, "minutes off not recorded", True),
        (
            2,
            "off for only 2 min, and this model keeps what a crew changed for 2 min: "
            "it does not count",
            False,
        ),
    ],
)
def test_a_pause_that_was_too_short_or_not_noted_is_told(
    minutes_off: int | None,
    pause: str,
    counts: bool,
) -> None:
    model = DeviceModel("dunlin", (), retention_min=Decimal(2))
    page = page_of(Line("spo2-low", signed("90"), on("90")), model=model)

    report = compared(replace(page, report=replace(page.report, minutes_off=minutes_off)))

    assert (report.pause, report.counts) == (pause, counts)


def one(
    alarm: str, setting: Setting | None, found: Reading, direction: Direction | None = None
) -> ComparedLine:
    deviation = (
        None if direction is None else Deviation(alarm, setting, found, direction, OFF_PROTOCOL)
    )
    return compared(page_of(Line(alarm, setting, found, deviation))).lines[0]


@pytest.mark.parametrize(
    ("alarm", "setting", "found", "shown", "verdict"),
    [
        ("spo2-low", signed("90"), on("90"), ("90 %", "90 %"), "holds"),
        ("asystole", signed(None), on(None), ("on", "on"), "holds"),
        ("spo2-high", Off(), FoundOff(), ("off", "off"), "holds"),
        ("spo2-high", Off(), FoundNotFitted(), ("off", "not fitted"), "holds"),
        ("spo2-low", signed("90"), NotRead(), ("90 %", "not read"), "not read"),
        ("spo2-low", None, on("90"), ("no policy", "90 %"), "not judged"),
        ("spo2-low", NoPolicy(), on("90"), ("no policy", "90 %"), "holds"),
        ("temperature-high", signed("38.5"), on("38.5", "Cel"), ("38.5 °C", "38.5 °C"), "holds"),
        ("etco2-low", signed("30"), on("4.0", "kPa"), ("4 kPa", "4 kPa"), "holds"),
    ],
)
def test_signed_stands_beside_found_in_the_same_unit(
    alarm: str, setting: Setting | None, found: Reading, shown: tuple[str, str], verdict: str
) -> None:
    line = one(alarm, setting, found)

    assert (line.signed, line.found, line.verdict) == (*shown, verdict)
    assert (line.sentence, line.picture) == ("", None)


def test_without_a_unit_it_is_the_one_that_the_model_shows() -> None:
    line = Line("etco2-low", signed("30"), on("4"))

    (shown,) = compared(page_of(line, model=KPA)).lines

    assert (shown.signed, shown.found) == ("4 kPa", "4 kPa")


def test_what_deviates_has_its_consequence_and_is_drawn_displaced() -> None:
    line = one("heart-rate-low", signed("90"), on("70"), LOOSER)

    assert line.verdict == "looser"
    assert line.sentence == "Heart rate can fall from 90 to 70 /min unannounced."
    assert line.picture is not None
    assert line.picture.kind == "silent"
    assert (line.picture.signed, line.picture.found) == (Decimal(90), Decimal(70))
    assert line.picture.found_x < line.picture.signed_x


def test_a_slip_in_kilopascal_is_drawn_on_its_own_scale() -> None:
    in_mmhg = one("etco2-high", signed("45"), on("60", "mm[Hg]"), LOOSER)
    in_kpa = one("etco2-high", signed("6", unit="kPa"), on("8", "kPa"), LOOSER)

    assert in_mmhg.picture is not None
    assert in_kpa.picture is not None
    assert in_kpa.picture.gap_width == pytest.approx(in_mmhg.picture.gap_width, abs=0.5)


@pytest.mark.parametrize(
    ("found", "direction"),
    [
        (FoundOff(), Direction.SWITCHED_OFF),
        (CouldNotRead("cracked"), Direction.UNREAD),
        (FoundOn(Decimal(90), delay_s=Decimal(20)), LOOSER),
    ],
)
def test_what_has_no_place_on_the_scale_is_not_drawn(found: Reading, direction: Direction) -> None:
    line = one("heart-rate-low", signed("90", delay_s=Decimal(5)), found, direction)

    assert line.sentence
    assert line.picture is None


def test_whatever_was_looked_at_is_shown() -> None:
    found = FoundOn(Decimal(90), None, Priority.LOW, Decimal(20), latching=False)

    line = one("heart-rate-low", signed("90"), found)

    assert line.found == "90 /min, low priority, delay 20 s, not latching"


@pytest.mark.parametrize(("deep", "shown"), [(DeepLine(Decimal(60)), "60 /min"), (None, "off")])
def test_a_deep_line_has_a_line_of_its_own(deep: DeepLine | None, shown: str) -> None:
    setting = signed("90", deep=deep)
    line = Line("heart-rate-low.deep", setting, on("60"))

    (told,) = compared(page_of(line, settings={"heart-rate-low": setting})).lines

    assert (told.label, told.signed) == ("Heart rate low, deep line", shown)


def test_the_gravest_deviation_is_told_first() -> None:
    lines = [
        Line(alarm, signed("90"), on("70"), Deviation(alarm, signed("90"), on("70"), LOOSER, grade))
        for alarm, grade in [
            ("heart-rate-low", Severity.NOTE),
            ("spo2-low", Severity.OFF_PROTOCOL),
            ("nibp-systolic-low", Severity.UNSAFE),
        ]
    ]
    report = compared(page_of(*lines, Line("apnoea", signed("20"), on("20"))))

    assert [line.severity for line in report.deviating] == ["unsafe", "off-protocol", "note"]
    assert report.conforming == 1
    assert report.where == "boat-3, power-on, CHILD (1 y to 5 y)"
    assert report.line("apnoea").found == "20 s"


def test_lines_follow_the_vital_signs_and_low_comes_before_high() -> None:
    alarms = ["apnoea", "spo2-low", "heart-rate-high", "heart-rate-low.deep", "heart-rate-low"]

    assert in_order(alarms) == [
        "heart-rate-low",
        "heart-rate-low.deep",
        "heart-rate-high",
        "spo2-low",
        "apnoea",
    ]
