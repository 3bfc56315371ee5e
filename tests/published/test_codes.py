"""LOINC, IEEE 11073-10101 and UCUM codes, typed a second time from public sources.

Read in: HL7 PoCD implementation guide examples, the German MII ICU module, FHIR R4 value sets and
the HL7 vital-signs profile, the FHIR R6 ballot value set (LOINC 2.82), HL7 DK Core (151562 only,
not used here), DICOM CID 3038 and CID 3415 as in pydicom (authoritative, V1); two or more
independent public HL7 v2 message fixtures or mappings (V2). Codes of a lower grade are held by
nobody: pulse rate and inspired CO2 have no LOINC, the airway respiratory rate no 11073 code.
"""

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.vital_signs import VITAL_SIGNS

# vital sign: LOINC (grade), 11073 partition and context code (grade), UCUM
PRINTED = """
heart-rate               8867-4  V1  2 16770 V1   /min
pulse-rate               -       -   2 18458 V2   /min
spo2                     59408-5 V1  2 19384 V1   %
respiratory-rate         9279-1  V1  2 20506 V2   /min
airway-respiratory-rate  76172-6 V1  - -     -    /min
etco2                    19891-1 V1  2 20636 V1   mm[Hg]
inspired-co2             -       -   2 20644 V2   mm[Hg]
nibp-systolic            76534-7 V1  2 18949 V2   mm[Hg]
nibp-diastolic           76535-4 V2  2 18950 V2   mm[Hg]
nibp-mean                76536-2 V2  2 18951 V2   mm[Hg]
ibp-systolic             76215-3 V1  2 18965 V2   mm[Hg]
ibp-diastolic            76213-8 V2  2 18966 V2   mm[Hg]
ibp-mean                 76214-6 V2  2 18967 V2   mm[Hg]
temperature              8310-5  V1  2 19292 V1   Cel
"""
# Partition 3 holds events; the VPC rate is a measurement of partition 2.
EVENTS = """
asystole              3 3076  V1  DICOM CID 3038
apnoea                3 3072  V1  DICOM CID 3038
irregular-heart-rate  3 3158  V1  DICOM CID 3038
vpc-rate              2 16994 V2  three HL7 v2 fixtures
"""


def code32(partition: str, context: str) -> int | None:
    """IEEE 11073-10101: the partition in the upper 16 bits, the code within it in the lower."""
    return None if partition == "-" else int(partition) * 65536 + int(context)


@pytest.mark.parametrize("line", PRINTED.strip().splitlines())
def test_every_vital_sign_carries_its_verified_codes_and_no_other(line: str) -> None:
    key, loinc, _, partition, context, _, unit = line.split()
    vital_sign = VITAL_SIGNS[key]

    assert vital_sign.loinc == (None if loinc == "-" else loinc)
    assert vital_sign.mdc == code32(partition, context)
    assert vital_sign.unit == unit


def test_the_table_holds_every_vital_sign() -> None:
    assert [line.split()[0] for line in PRINTED.strip().splitlines()] == list(VITAL_SIGNS)


@pytest.mark.parametrize(
    ("key", "code"),
    [
        ("heart-rate", 147842),
        ("spo2", 150456),
        ("etco2", 151708),
        ("nibp-systolic", 150021),
        ("temperature", 150364),
    ],
)
def test_the_32_bit_codes_are_as_messages_carry_them(key: str, code: int) -> None:
    """As printed in the HL7 PoCD guide (147842), the MII ICU module and HL7 v2 fixtures."""
    assert VITAL_SIGNS[key].mdc == code


def test_every_event_carries_its_verified_code_and_no_other() -> None:
    printed = {}
    for line in EVENTS.strip().splitlines():
        key, partition, context, *_ = line.split()
        printed[key] = code32(partition, context)

    held = {key: row.mdc for key, row in ALARM_CONDITIONS.items() if row.mdc is not None}

    assert held == printed


def _loinc_check_digit(number: str) -> int:
    """Luhn's mod 10 from the right, doubling every other digit (LOINC Users' Guide)."""
    digits = [int(digit) for digit in reversed(number)]
    doubled = [
        sum(divmod(digit * 2, 10)) if at % 2 == 0 else digit for at, digit in enumerate(digits)
    ]
    return -sum(doubled) % 10


@pytest.mark.parametrize("key", [key for key, row in VITAL_SIGNS.items() if row.loinc])
def test_every_loinc_code_has_its_check_digit(key: str) -> None:
    number, check = str(VITAL_SIGNS[key].loinc).split("-")

    assert int(check) == _loinc_check_digit(number)


def test_units_are_ucum_and_people_see_their_own_words() -> None:
    """`bpm` and `mmHg` are no UCUM codes."""
    shown = {row.unit: row.shown for row in VITAL_SIGNS.values()}

    assert shown == {"/min": "/min", "%": "%", "mm[Hg]": "mmHg", "Cel": "°C"}
    assert {row.unit for row in ALARM_CONDITIONS.values()} == {*shown, "s", None}
