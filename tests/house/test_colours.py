"""What the stylesheet promises of its colours: readable, and without red light at night."""

import re

import pytest

from app.places import folder

CSS = (folder("static") / "app.css").read_text(encoding="utf-8")
DAY, NIGHT = ":root", ':root[data-theme="night"]'
AUTO = ':root[data-theme="auto"]'

READ = [
    # What is read: 7 : 1, as crews read it in bad light.
    ("ink", "paper", 7.0),
    ("ink", "raised", 7.0),
    ("ink", "sunk", 7.0),
    # What explains, leads or marks: 4.5 : 1.
    ("soft", "paper", 4.5),
    ("soft", "sunk", 4.5),
    ("sea", "paper", 4.5),
    ("sea", "sea-wash", 4.5),
    ("on-sea", "sea", 4.5),
    ("looser", "paper", 4.5),
    ("looser", "looser-wash", 4.5),
    ("tighter", "paper", 4.5),
    ("tighter", "tighter-wash", 4.5),
    ("on-high", "high", 4.5),
    ("on-medium", "medium", 4.5),
    ("on-low", "low", 4.5),
    # Edges of controls and the focus: 3 : 1.
    ("strong-rule", "paper", 3.0),
    ("focus", "paper", 3.0),
]


def colours(selector: str) -> dict[str, str]:
    block = re.search(rf"(?m)^\s*{re.escape(selector)} \{{(.*?)\}}", CSS, re.DOTALL)
    assert block is not None
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block[1]))


def channels(colour: str) -> tuple[int, int, int]:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return red, green, blue


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (channel / 255 for channel in channels(colour))
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted([luminance(one), luminance(other)])
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_counted_as_the_standard_does() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("theme", [DAY, NIGHT])
@pytest.mark.parametrize(("text", "ground", "least"), READ)
def test_everything_can_be_read(theme: str, text: str, ground: str, least: float) -> None:
    shown = colours(theme)

    assert contrast(shown[text], shown[ground]) >= least


def test_both_themes_name_the_same_colours() -> None:
    assert set(colours(NIGHT)) == set(colours(DAY))


def test_a_dark_device_gets_the_very_same_night() -> None:
    assert colours(AUTO) == colours(NIGHT)


@pytest.mark.parametrize("name", colours(NIGHT))
def test_nothing_at_night_leans_to_red(name: str) -> None:
    red, green, _ = channels(colours(NIGHT)[name])

    assert red <= green


@pytest.mark.parametrize("name", sorted(path.name for path in folder("static").glob("*.css")))
def test_colours_are_named_once_and_used_by_name(name: str) -> None:
    text = (folder("static") / name).read_text(encoding="utf-8")
    outside = re.sub(r":root[^{]*\{[^}]*\}", "", text)

    assert re.findall(r"#[0-9a-f]{3,8}\b(?![^{]*\{)", outside) in ([], ["#000", "#000"])
