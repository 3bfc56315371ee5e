"""Names are printed and never run; what cannot be drawn fails or is told by its number."""

from datetime import timedelta
from pathlib import Path

import pytest

from app.exchange.typst_papers import PaperFailed, Press
from app.places import folder
from tests.builders import NOW
from tests.printed import press, properties, text

FONTS = folder("static") / "fonts"
LETTERHEAD = (
    '#set document(title: "t")\n#set text(font: "DejaVu Sans", fallback: false, lang: "en")\n'
)
NAMES = "#let data = json(bytes(sys.inputs.data))\n#for one in data.names [#block(one)]\n"


def made(folder: Path, markup: str, *, head: str = LETTERHEAD) -> Press:
    (folder / "one.typ").write_text(head + markup, encoding="utf-8")
    return Press(templates=folder, fonts=FONTS)


@pytest.mark.parametrize(
    "name",
    [
        '#import "x"',
        "*bold* _slanted_ `raw` $x^2$ = not a heading",
        '#sys.inputs #read("/etc/passwd") #panic("no")',
        "// no comment /* nor this */ \\u{41} \\ <label> @reference",
        '"quoted" \\" {json} [content]',
        "- no list + nor this / nor: that",
        "<script>alert(1)</script> ]] #]",
    ],
)
def test_markup_in_a_name_is_printed_as_it_is(tmp_path: Path, name: str) -> None:
    pdf = made(tmp_path, NAMES).set_paper("one", {"names": [name]}, at=NOW)

    assert text(pdf) == " ".join(name.split())


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("Łukasz Þór Νίκος Яна", "Łukasz Þór Νίκος Яна"),
        ("Dana\u202eanaD", "Dana[U+202E]anaD"),
        ("Da\u200bna", "Da[U+200B]na"),
        ("李 Dana", "[U+674E] Dana"),
        ("Dana \U0001f6ab", "Dana [U+1F6AB]"),
        ("Da\x07na", "Da[U+0007]na"),
        ("Dana\tSund", "Dana Sund"),
    ],
)
def test_what_cannot_be_seen_or_drawn_is_told_by_its_number(
    tmp_path: Path, name: str, printed: str
) -> None:
    pdf = made(tmp_path, NAMES).set_paper("one", {"names": [name]}, at=NOW)

    assert text(pdf) == printed


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    data = {"names": ["Dana"]}

    first, second = (made(tmp_path, NAMES).set_paper("one", data, at=NOW) for _ in range(2))

    assert first == second


def test_one_press_prints_one_paper_after_another_and_mixes_nothing(tmp_path: Path) -> None:
    press = made(tmp_path, NAMES)

    dana = press.set_paper("one", {"names": ["Dana"]}, at=NOW)
    ravi = press.set_paper("one", {"names": ["Ravi"]}, at=NOW)

    assert (text(dana), text(ravi)) == ("Dana", "Ravi")


def test_a_paper_tells_the_time_it_was_given(tmp_path: Path) -> None:
    pdf = made(tmp_path, NAMES).set_paper("one", {"names": []}, at=NOW + timedelta(seconds=1))

    assert "20260302090001" in properties(pdf)["/CreationDate"]


@pytest.mark.parametrize(
    ("markup", "why"),
    [
        ('#set text(font: "No Such Face")\nhello', "unknown font family"),
        ("#nothing-of-this-name", "unknown variable"),
        ('#read("/etc/passwd")', "not found"),
        ('#read("../secret.txt")', "escape"),
        ("a template with 李", r"U\+674E"),
    ],
)
def test_a_template_at_fault_gives_no_paper(tmp_path: Path, markup: str, why: str) -> None:
    (tmp_path / "secret.txt").write_text("secret")
    templates = tmp_path / "templates"
    templates.mkdir()

    with pytest.raises(PaperFailed, match=why):
        made(templates, markup).set_paper("one", {}, at=NOW)


def test_no_font_of_the_machine_is_used(tmp_path: Path) -> None:
    """DejaVu Serif lies on many machines, and not among ours."""
    face = '#set document(title: "t")\n#set text(font: "DejaVu Serif", lang: "en")\n'

    with pytest.raises(PaperFailed, match="unknown font family"):
        made(tmp_path, "hello", head=face).set_paper("one", {}, at=NOW)


def test_pictures_reach_the_template_as_they_are(tmp_path: Path) -> None:
    square = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><path d="M0 0h9v9z"/></svg>'
    )
    show = '#image(bytes(json(bytes(sys.inputs.pictures)).square), alt: "a square")'

    pdf = made(tmp_path, show).set_paper("one", {}, at=NOW, pictures={"square": square})

    assert pdf.startswith(b"%PDF")


def test_every_template_of_ours_can_be_drawn_by_our_fonts() -> None:
    templates = sorted((folder("templates") / "papers").glob("*.typ"))

    assert templates
    for template in templates:
        told = template.read_text(encoding="utf-8")
        assert press().seen(told) == told, template.name
