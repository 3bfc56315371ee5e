"""`marchstone range`: published centiles of a vital sign at an age."""

from argparse import Namespace
from typing import Any

from app.cli.check import references
from app.cli.output import FINE, print_json, rows
from app.domain.ages import Age
from app.domain.centiles import CentileRow, CentileTable
from app.domain.errors import Refused
from app.domain.vital_signs import VITAL_SIGNS


def run(arguments: Namespace) -> int:
    age = _age(arguments.age)
    table, row = _row(arguments, age)
    value, centile = _asked(arguments, row)
    extrapolated = value is not None and row.curve.extrapolated(value)
    result = {
        "vital_sign": arguments.vital,
        "age_days": _plain(float(age.days)),
        "source": table.source,
        "band": row.band,
        "centiles": {f"{c:g}": _plain(v) for c, v in zip(row.centiles, row.values, strict=True)},
        "value": value,
        "centile": centile,
        "extrapolated": extrapolated,
    }
    if arguments.json:
        print_json(result)
    else:
        print(_told(result, age))
    return FINE


def _age(text: str) -> Age:
    try:
        return Age.parse(text)
    except ValueError as error:
        raise Refused.because(str(error), column="--age", value=text) from None


def _row(arguments: Namespace, age: Age) -> tuple[CentileTable, CentileRow]:
    vital = arguments.vital
    if vital not in VITAL_SIGNS:
        known = ", ".join(VITAL_SIGNS)
        raise Refused.because(f"must be one of {known}", column="VITAL", value=vital)
    known_ranges = references(arguments.reference)
    table = known_ranges.table_for(vital)
    if table is None:
        raise Refused.because("no centiles are held for it", column="VITAL", value=vital)
    row = table.at(known_ranges.named_in(table, vital), age)
    if row is None:
        raise Refused.because(
            f"{table.source} has no centiles at this age", column="--age", value=arguments.age
        )
    return table, row


def _asked(arguments: Namespace, row: CentileRow) -> tuple[float | None, float | None]:
    if arguments.value is not None:
        value = _finite(arguments.value, "--value")
        return _plain(value), row.curve.share_below(value) * 100
    if arguments.centile is not None:
        centile = _finite(arguments.centile, "--centile")
        if not 0 < centile < 100:
            raise Refused.because("must lie between 0 and 100", column="--centile", value=centile)
        return row.curve.value_at(centile), _plain(centile)
    return None, None


def _finite(number: float, column: str) -> float:
    if not abs(number) < 1e6:  # also true for NaN
        raise Refused.because("must be an ordinary number", column=column, value=str(number))
    return number


def _plain(number: float) -> int | float:
    return int(number) if number == int(number) else number


def _told(result: dict[str, Any], age: Age) -> str:
    vital = VITAL_SIGNS[result["vital_sign"]]
    centiles = result["centiles"]
    lines = [f"{vital.label} at {age}, band {result['band']}, {vital.shown}", ""]
    lines.append(rows([["centile", *centiles], ["value", *map(str, centiles.values())]]))
    if result["value"] is not None:
        mark = " (extrapolated)" if result["extrapolated"] else ""
        lines.append(f"\n{result['value']:g} lies at centile {result['centile']:.4g}{mark}")
    lines.append(f"\n{result['source']}\nHealthy people of this age; no advice for a patient.")
    return "\n".join(lines)
