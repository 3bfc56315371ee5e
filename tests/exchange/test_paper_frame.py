"""What the frame promises every paper: a number is read whole in any column of a table.

From 16 mm, just more than the widest of them takes.
"""

import re
import shutil
from io import BytesIO
from pathlib import Path

import pypdf
import pytest

from app.exchange.typst_papers import Press
from app.places import folder
from tests.builders import NOW

NUMBERS = ("180 /min", "7.5 kPa", "110 mmHg", "38.5 °C", "100 %", "120 s", "10.5 mo", "100 y")
NARROW = """#import "frame.typ": *
#show: framed
#for width in range(16, 34) {
  for number in data.numbers [#block(width: width * 1mm, [Sounds above #number for it])]
}
"""
FRAME = {
    "agency": "Skerry Ambulance",
    "profile": "Ground and air",
    "revision": "3",
    "stamp": "IN FORCE when printed",
    "holds": True,
    "short": "0a1b2c3d",
    "printed": "2 March 2026",
    "title": "Narrow columns",
}


@pytest.fixture
def press(tmp_path: Path) -> Press:
    shutil.copy(folder("templates") / "papers" / "frame.typ", tmp_path)
    (tmp_path / "narrow.typ").write_text(NARROW, encoding="utf-8")
    return Press(templates=tmp_path, fonts=folder("static") / "fonts")


def test_a_number_is_never_parted_from_its_digits_or_its_unit(press: Press) -> None:
    pdf = press.set_paper("narrow", FRAME | {"numbers": NUMBERS}, at=NOW)

    lines = [
        line.strip()
        for page in pypdf.PdfReader(BytesIO(pdf)).pages
        for line in page.extract_text().splitlines()
    ]
    for number in NUMBERS:
        whole = re.compile(rf"(?<![\d.]){re.escape(number)}(?!\w)")
        assert sum(bool(whole.search(line)) for line in lines) == 18, number
