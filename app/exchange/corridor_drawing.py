"""The age corridor in black and white, for a paper: hatch and stipple instead of colour.

The numbers come from the domain; a lane is WIDTH wide and HEIGHT high, with room for its name on
the left.
"""

from collections.abc import Iterator, Sequence
from html import escape

from app.domain.age_axis import MARKS
from app.domain.corridor import Band, Corridor, Lane
from app.domain.corridor_shapes import HEIGHT, WIDTH, Line, Region, Wall

LANES = 9
"""As many as stand on one page."""
_LEFT, _RIGHT, _TOP, _PITCH = 150, 12, 62, 148
_FACE = 'font-family="DejaVu Sans" font-stretch="semi-condensed"'
_SMALL, _LIMIT, _NAME = 12, 13, 14  # font sizes
_FANS = ("#ececec", "#dcdcdc", "#cccccc")
_PATTERNS = (
    '<pattern id="danger" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path d="M0 0V6" stroke="#000" stroke-width="2.4"/></pattern>'
    '<pattern id="caution" width="11" height="11" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path d="M0 0V11" stroke="#000" stroke-width="1.1"/></pattern>'
    '<pattern id="noisy" width="5" height="5" patternUnits="userSpaceOnUse">'
    '<circle cx="1.4" cy="1.4" r=".9"/><circle cx="3.9" cy="3.9" r=".9"/></pattern>'
    f'<clipPath id="lane"><rect width="{WIDTH:g}" height="{HEIGHT:g}"/></clipPath>'
)


def corridor_pictures(corridor: Corridor) -> dict[str, str]:
    """`corridor-1`, `corridor-2` …: SVG of up to LANES lanes each, every one with the age axis."""
    parts = [corridor.lanes[at : at + LANES] for at in range(0, len(corridor.lanes), LANES)]
    return {
        f"corridor-{number}": "".join(_picture(corridor.bands, lanes))
        for number, lanes in enumerate(parts, start=1)
    }


def _picture(bands: Sequence[Band], lanes: Sequence[Lane]) -> Iterator[str]:
    width, height = _LEFT + WIDTH + _RIGHT, _TOP + _PITCH * len(lanes)
    yield f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height}"><defs>'
    yield f'{_PATTERNS}</defs><g transform="translate({_LEFT} 0)" {_FACE}>'
    for band in bands:
        yield from _band(band, height)
    yield from _axis()
    for number, lane in enumerate(lanes):
        yield f'<g transform="translate(0 {_TOP + _PITCH * number})">'
        yield from _lane(lane)
        yield "</g>"
    yield "</g></svg>"


def _band(band: Band, height: int) -> Iterator[str]:
    room = int((band.end - band.start) / 7)
    label = band.label if len(band.label) <= room else f"{band.label[: max(room - 1, 0)]}…"
    if room > 1:
        yield _text(label, (band.start + band.end) / 2, 14, _NAME, weight="bold")
    if band.start > 0:
        yield f'<path d="M{band.start:g} 20V{height - 6}" stroke="#888" stroke-dasharray="2 3"/>'


def _axis() -> Iterator[str]:
    yield f'<path d="M0 48H{WIDTH:g}" stroke="#000"/>'
    for number, mark in enumerate(MARKS):
        x = round(mark.x * WIDTH, 1)
        anchor = "start" if number == 0 else "end" if mark is MARKS[-1] else "middle"
        yield f'<path d="M{x:g} 43v10" stroke="#000"/>'
        yield _text(mark.label, x, 38, _SMALL, anchor=anchor)


def _lane(lane: Lane) -> Iterator[str]:
    yield from _name(lane)
    for tick in lane.scale.ticks():
        y = lane.scale.y_of(tick)
        yield f'<path d="M-5 {y:g}H{WIDTH:g}" stroke="#bbb" stroke-width=".6"/>'
        yield _text(str(tick), -9, y + 4, _SMALL, anchor="end")
    yield '<g clip-path="url(#lane)">'
    for fill, fan in zip(_FANS, lane.fan, strict=False):
        yield _polygon(fan.outline, f'fill="{fill}"')
    yield _polyline(lane.median, 'stroke="#555" stroke-dasharray="5 3"')
    for region in (*lane.silent, *lane.noisy):
        yield _polygon(region.outline, f'fill="url(#{_pattern(region)})" stroke="#000"')
    yield "</g>"
    for face in lane.faces:
        stroke = 'stroke-width="1.4" stroke-dasharray="8 3"' if face.deep else 'stroke-width="3"'
        yield _polyline(face.line, f'stroke="#000" {stroke}')
    for wall in lane.walls:
        yield from _limit(wall)
    yield from map(_word, (one for one in (*lane.silent, *lane.noisy) if one.label))
    yield f'<path d="M0 0H{WIDTH:g}V{HEIGHT:g}H0Z" fill="none" stroke="#000" stroke-width=".8"/>'


def _name(lane: Lane) -> Iterator[str]:
    """In two lines where it is long."""
    first, rest = lane.vital.label, ""
    if len(first) > 14 and " " in first:
        first, rest = first.split(" ", 1)
    lines = [first, rest, lane.vital.shown, "" if lane.fan else "no published fan"]
    for number, line in enumerate(filter(None, lines)):
        size, weight = (_NAME, "bold") if line in (first, rest) else (_SMALL, "normal")
        yield _text(line, -_LEFT, 14 + 17 * number, size, anchor="start", weight=weight)


def _limit(wall: Wall) -> Iterator[str]:
    width = wall.end.x - wall.start.x
    if width < (90 if wall.deep else 26):
        return
    low = wall.side == "low"
    y = min(wall.start.y + 14, HEIGHT - 3) if low else max(wall.start.y - 5, 12)
    if wall.deep:
        yield _text(wall.written, wall.end.x - 5, y, _SMALL, anchor="end", halo=True)
    else:
        middle = (wall.start.x + wall.end.x) / 2
        yield _text(wall.written, middle, y, _LIMIT, weight="bold", halo=True)


def _word(region: Region) -> str:
    assert region.label is not None  # noqa: S101 - asked for by the caller
    return _text(region.kind, region.label.x, region.label.y, _SMALL, weight="bold", halo=True)


def _pattern(region: Region) -> str:
    if region.kind == "noisy":
        return "noisy"
    return "danger" if region.grade == "danger" else "caution"


def _text(
    words: str,
    x: float,
    y: float,
    size: int,
    *,
    anchor: str = "middle",
    weight: str = "normal",
    halo: bool = False,
) -> str:
    """A halo keeps a number readable over a hatch."""
    placed = f'x="{x:g}" y="{y:g}" font-size="{size}" text-anchor="{anchor}" font-weight="{weight}"'
    told = f"<text {placed}>{escape(words)}</text>"
    if not halo:
        return told
    behind = f'<text {placed} fill="#fff" stroke="#fff" stroke-width="5" stroke-linejoin="round">'
    return f"{behind}{escape(words)}</text>{told}"


def _polygon(line: Line, style: str) -> str:
    return f'<polygon points="{_points(line)}" {style}/>'


def _polyline(line: Line, style: str) -> str:
    return f'<polyline points="{_points(line)}" fill="none" {style}/>' if line else ""


def _points(line: Line) -> str:
    return " ".join(f"{point.x:g},{point.y:g}" for point in line)
