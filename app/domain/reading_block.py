"""Readings of many devices at once, as int16 columns, held against what was signed.

The verdict on a number depends on its column and on the number alone, and there are only 65,536
numbers. So what `compare_preset` says of every one is written down once for a column; a whole
fleet is then one comparison with a value that conforms, and a look at that table for what differs.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, cached_property
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from app.domain.comparison import DEEP, Direction, base_alarm, direction_of
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    NotRead,
    Reading,
)
from app.domain.fleet import Column
from app.domain.option_columns import SignedOptions, signed_options
from app.domain.option_judgement import ANY_PRESET
from app.domain.packing import (
    AS_TEXT,
    AS_WRITTEN,
    COULD_NOT_READ,
    LEAST,
    MOST,
    NO_EXTRAS,
    NOT_FITTED,
    NOT_READ,
    OFF,
    ON_WITHOUT_LIMIT,
    Packed,
    key_of,
    reading_of,
    step_of,
)
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import On
from app.domain.silence import SPO2_AVERAGING

Codes = NDArray[np.int16]
Cells = NDArray[np.int64]
DIRECTIONS: tuple[Direction | None, ...] = (None, *Direction)
"""By direction code; 0 is what conforms."""
_CODE_OF = {direction: code for code, direction in enumerate(DIRECTIONS)}
_ALL_CODES = 1 << 16
_LOWEST = -(1 << 15)
_CELLS_AT_A_TIME = 1 << 18  # small enough to stay in the processor's cache
_WORD = 8  # bytes


@dataclass(frozen=True)
class ReadingBlock:
    """`vals`: a row a device, a column a place of the layout; in steps, or a sentinel of packing.

    `noted`: by row and column, every reading of which `vals` does not hold everything.
    """

    layout: tuple[Column, ...]
    vals: Codes
    noted: Mapping[tuple[int, int], Reading]

    def reading(self, row: int, column: int) -> Reading:
        noted = self.noted.get((row, column))
        return noted or reading_of(self.layout[column][1], int(self.vals[row, column]), {})


@dataclass(frozen=True)
class SignedBlock:
    """What a revision says of a layout on one model.

    `expected`: of each column, one code that conforms. `directions`: columns × 65,536, the
    direction code of every reading code from -32,768 up. `judged`: where anything can deviate.
    """

    layout: tuple[Column, ...]
    presets: tuple[RenderedPreset | None, ...]
    expected: Codes
    directions: NDArray[np.int8]
    judged: NDArray[np.bool_]
    spo2_averaging_s: Decimal
    options: SignedOptions

    @cached_property
    def repeated(self) -> tuple[Codes, NDArray[np.int32]]:
        """`expected` for as many rows as are compared at a time, and where the table of each of
        their cells begins; the cells make whole words."""
        width = len(self.layout)
        rows = -(-max(_CELLS_AT_A_TIME // width, 1) // _WORD) * _WORD
        begins = np.arange(width, dtype=np.int32) * _ALL_CODES - _LOWEST
        return np.tile(self.expected, (rows, 1)), np.tile(begins, rows)

    def direction(self, column: int, reading: Reading) -> int:
        """Its code."""
        preset, (name, alarm) = self.presets[column], self.layout[column]
        if name == ANY_PRESET:
            return _CODE_OF[self.options.direction(alarm, reading)]
        return _CODE_OF[direction_of(preset, alarm, reading)] if preset else 0


@dataclass(frozen=True)
class BlockDeviations:
    """A place each, by row and then column: device row, column, and its direction code."""

    rows: NDArray[np.int32]
    columns: NDArray[np.int16]
    directions: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.rows)


def reading_block(layout: Sequence[Column], devices: Sequence[Packed]) -> ReadingBlock:
    """Raises ValueError where a device does not fit the layout."""
    extras = {row: one.extras for row, one in enumerate(devices) if one.extras != NO_EXTRAS}
    if {len(packed.vals) for packed in devices} - {2 * len(layout)}:
        raise ValueError(f"a device of this layout has {len(layout)} readings")
    return joined_block(layout, b"".join(packed.vals for packed in devices), extras)


def joined_block(layout: Sequence[Column], vals: bytes, extras: Mapping[int, str]) -> ReadingBlock:
    """`vals`: of one device after the other. `extras`: by row, only where there are any."""
    places = {key_of(column): place for place, column in enumerate(layout)}
    codes = np.frombuffer(vals, "<i2").reshape(-1, len(layout))
    codes = codes.astype(np.int16, copy=False)
    noted = {
        (row, place): reading_of(layout[place][1], int(codes[row, place]), extra)
        for row, told in extras.items()
        for place, extra in ((places[key], e) for key, e in json.loads(told).items())
    }
    return ReadingBlock(tuple(layout), codes, noted)


# --- what was signed


def signed_block(profile: Profile, model: str, layout: Sequence[Column]) -> SignedBlock:
    """Columns of a preset that the model does not have are not judged."""
    rendered = rendered_presets(profile, model)
    presets = tuple(rendered.get(preset) for preset, _ in layout)
    expected = np.full(len(layout), NOT_READ, np.int16)
    directions = np.zeros((len(layout), _ALL_CODES), np.int8)
    options = signed_options(profile, model)
    for place, (preset, (name, alarm)) in enumerate(zip(presets, layout, strict=True)):
        if name == ANY_PRESET:
            _write_down_option(directions[place], options, alarm)
        elif preset is not None:
            expected[place] = _write_down(directions[place], preset, alarm)
    averaging = profile.number_option(SPO2_AVERAGING) or Decimal(0)
    judged = np.array([bool(told.any()) for told in directions], np.bool_)
    return SignedBlock(tuple(layout), presets, expected, directions, judged, averaging, options)


def _write_down_option(told: NDArray[np.int8], options: SignedOptions, key: str) -> None:
    """Any number but the signed one deviates alike."""
    told[LEAST - _LOWEST :] = _CODE_OF[options.direction(key, FoundOn(Decimal(MOST + 1)))]
    number = options.number(key)
    if number is not None and LEAST <= number <= MOST:
        told[number - _LOWEST] = 0
    for code, state in _STATES.items():
        told[code - _LOWEST] = _CODE_OF[options.direction(key, state)]


def _write_down(told: NDArray[np.int8], preset: RenderedPreset, alarm: str) -> int:
    """Fill in the direction of every code; the answer is one that conforms.

    Beside the signed values every number has the direction of its neighbour, so only those
    between them, and one on each side, are asked for.
    """

    def asked(code: int) -> int:
        found = _STATES.get(code) or reading_of(alarm, code, {})
        return _CODE_OF[direction_of(preset, alarm, found)]

    first, after = _signed_codes(preset, alarm)
    if first > LEAST:
        told[LEAST - _LOWEST : first - _LOWEST] = asked(first - 1)
    if after <= MOST:
        told[after - _LOWEST : MOST + 1 - _LOWEST] = asked(after)
    for code in (*_STATES, *range(first, after)):
        told[code - _LOWEST] = asked(code)
    likely: list[int] = [*range(first, after), ON_WITHOUT_LIMIT, OFF]
    return next(code for code in likely if not told[code - _LOWEST])


_STATES: dict[int, Reading] = {
    NOT_READ: NotRead(),
    NOT_FITTED: FoundNotFitted(),
    OFF: FoundOff(),
    ON_WITHOUT_LIMIT: FoundOn(),
    COULD_NOT_READ: CouldNotRead(""),
    AS_TEXT: FoundText(""),
    AS_WRITTEN: FoundOn(),
}


def _signed_codes(preset: RenderedPreset, alarm: str) -> tuple[int, int]:
    """From the first to after the last code that a signed value can be; both 0 without one."""
    key = base_alarm(alarm)
    if not isinstance(preset.settings.get(key), On):
        return 0, 0
    values = preset.deep_values(key) if alarm.endswith(DEEP) else preset.values(key)
    if not values:
        return 0, 0
    step = step_of(alarm)
    first, last = floor(min(values) / step), ceil(max(values) / step)
    return min(max(first, LEAST), MOST + 1), min(max(last, LEAST - 1), MOST) + 1


# --- held against each other


def compare_block(block: ReadingBlock, signed: SignedBlock) -> BlockDeviations:
    """Everything that deviates, exactly as `compare_preset` tells it for each device and preset.

    Raises ValueError where the two are not of one layout.
    """
    if block.layout != signed.layout:
        raise ValueError("the readings and what was signed have different layouts")
    width = max(len(block.layout), 1)
    pieces = [_placed(*piece, width) for piece in _pieces(block.vals, signed)]
    found = BlockDeviations(
        *(np.concatenate(parts) for parts in zip(_NOTHING, *pieces, strict=True))
    )
    return _with_noted(found, block, signed) if block.noted else found


_NOTHING = np.zeros(0, np.int32), np.zeros(0, np.int16), np.zeros(0, np.int8)


def _pieces(vals: Codes, signed: SignedBlock) -> Iterator[tuple[int, Cells, NDArray[np.int8]]]:
    """(first row, cells counted from there that deviate, their direction codes)."""
    devices, width = vals.shape
    if not vals.size:
        return
    expected, tables = signed.repeated
    rows = len(expected)
    directions = signed.directions.ravel()
    every = bool(signed.judged.all())
    differs = np.zeros((rows, width), np.bool_)
    for first in range(0, devices, rows):
        piece = vals[first : first + rows]
        np.not_equal(piece, expected[: len(piece)], out=differs[: len(piece)])
        differs[len(piece) :] = False
        if not every:
            differs &= signed.judged
        cells = _true_places(differs.ravel())
        told = directions.take(tables.take(cells) + piece.ravel().take(cells))
        yield first, *((cells, told) if told.all() else (cells[told != 0], told[told != 0]))


def _true_places(differs: NDArray[np.bool_]) -> Cells:
    """As np.flatnonzero, which guesses wrong at every hit when hits are rare: so first the words
    of eight cells in which there is any, then the cells of those."""
    words = differs.view(np.uint64)
    hit = np.flatnonzero(words != 0)
    within = np.flatnonzero(words.take(hit).view(np.bool_))
    word = within // _WORD
    places: Cells = within + _WORD * (hit.take(word) - word)
    return places


def _placed(
    first: int, cells: Cells, told: NDArray[np.int8], width: int
) -> tuple[NDArray[np.int32], NDArray[np.int16], NDArray[np.int8]]:
    rows = cells // width
    columns = cells - rows * width
    return (rows + first).astype(np.int32), columns.astype(np.int16), told


def _with_noted(
    found: BlockDeviations, block: ReadingBlock, signed: SignedBlock
) -> BlockDeviations:
    """What was noted beside the numbers decides where there is such a note."""

    asked = cache(signed.direction)
    width = len(block.layout)
    told = np.array([asked(at[1], reading) for at, reading in block.noted.items()], np.int8)
    noted = np.array([row * width + column for row, column in block.noted], np.int64)
    cells = found.rows.astype(np.int64) * width + found.columns
    kept = ~np.isin(cells, noted)
    every = np.concatenate((cells[kept], noted[told != 0]))
    directions = np.concatenate((found.directions[kept], told[told != 0]))
    order = np.argsort(every, kind="stable")
    return BlockDeviations(*_placed(0, every[order], directions[order], width))
