"""What the corridor says is in the picture, in black and white alone."""

import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import pytest

from app.domain.corridor import Corridor, corridor
from app.exchange.corridor_drawing import LANES, corridor_pictures
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

SVG = "{http://www.w3.org/2000/svg}"


def drawn(document: dict[str, Any] | None = None) -> Corridor:
    return corridor(profile_from_document(document or five_categories()))


def picture(found: Corridor) -> ElementTree.Element:
    (svg,) = corridor_pictures(found).values()
    return ElementTree.fromstring(svg)  # noqa: S314 - our own picture


def words(svg: ElementTree.Element) -> list[str]:
    return [told.text or "" for told in svg.iter(f"{SVG}text")]


def filled(svg: ElementTree.Element, pattern: str) -> int:
    return sum(one.get("fill") == f"url(#{pattern})" for one in svg.iter(f"{SVG}polygon"))


def test_every_lane_has_its_name_and_every_wide_wall_its_limit() -> None:
    found = drawn()

    told = words(picture(found))

    for lane in found.lanes:
        assert set(lane.vital.label.split(" ", 1)) & set(told) or lane.vital.label in told
        wide = {wall.written for wall in lane.walls if wall.end.x - wall.start.x >= 26}
        assert wide <= set(told)
    assert {band.label for band in found.bands} <= {*told}


@pytest.mark.parametrize(
    ("limit", "more"),
    [(180, 0), (181, 1)],  # above 180 a heart rate at 1 to 5 years is danger (AHA PALS)
)
def test_silence_is_hatched(limit: int, more: int) -> None:
    document = five_categories()
    document["settings"]["young-child"]["heart-rate-high"] = on(limit)

    assert filled(picture(drawn(document)), "danger") == filled(picture(drawn()), "danger") + more


def test_what_is_noisy_is_stippled() -> None:
    document = five_categories()
    document["settings"]["young-child"]["heart-rate-high"] = on(110)

    assert filled(picture(drawn(document)), "noisy") > filled(picture(drawn()), "noisy")


def test_a_deep_line_is_dashed() -> None:
    document = five_categories()
    deep = {"limit": 50, "priority": "high", "delay_s": 0}
    document["settings"]["child"]["heart-rate-low"] = on(60, deep=deep)

    lines = picture(drawn(document)).iter(f"{SVG}polyline")

    assert sum(line.get("stroke-dasharray") == "8 3" for line in lines) == 1


def test_there_is_no_colour() -> None:
    (svg,) = corridor_pictures(drawn()).values()

    colours = re.findall(r"#([0-9a-f]{3,6})\b", svg.replace("url(#", "url("))

    assert colours
    assert all(len(set(re.findall("..", c) if len(c) == 6 else c)) == 1 for c in colours)


@pytest.mark.parametrize(
    ("lanes", "parts"), [(0, []), (1, [1]), (LANES, [LANES]), (LANES + 1, [LANES, 1])]
)
def test_more_lanes_than_a_page_holds_go_on_the_next(lanes: int, parts: list[int]) -> None:
    found = drawn()
    many = replace(found, lanes=(found.lanes[0],) * lanes)

    pictures = corridor_pictures(many)

    assert list(pictures) == [f"corridor-{number}" for number in range(1, len(parts) + 1)]
    assert [svg.count("Heart rate") for svg in pictures.values()] == parts


def test_a_hostile_label_is_only_a_label() -> None:
    document = five_categories()
    hostile = '<script>&"]]>'
    document["categories"][1]["label"] = hostile

    svg = picture(drawn(document))

    assert hostile in words(svg)
    assert list(svg.iter("script")) == []
