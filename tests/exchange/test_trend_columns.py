import io

import pytest

from app.domain.errors import Refused
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.trend_columns import check_patients, check_words, identifying
from app.exchange.trends_files import read_trends_file


@pytest.mark.parametrize(
    ("column", "meant"),
    [
        ("name", "a name"),
        ("Patient Name", "a name"),
        ("lastName", "a name"),
        ("SURNAME", "a name"),
        ("dob", "a date of birth"),
        ("Date of Birth", "a date of birth"),
        ("birth-date", "a date of birth"),
        ("born", "a date of birth"),
        ("MRN", "a record number"),
        ("record_number", "a record number"),
        ("hospital no", "a record number"),
        ("NHS number", "a record number"),
        ("patient_id", "a record number"),
        ("incident", "a record number"),
        ("address", "an address"),
        ("postcode", "an address"),
        ("e-mail", "a way to reach somebody"),
        ("Mobile phone", "a way to reach somebody"),
        ("timestamp", "a time of day by which a journey can be found"),
        ("weight", ""),
        ("heart_rate", ""),
        ("spo2", ""),
        ("", ""),
    ],
)
def test_columns_that_tell_who_somebody_is_are_known_by_their_names(
    column: str, meant: str
) -> None:
    assert identifying(column) == meant


def test_no_vital_sign_is_taken_for_one() -> None:
    assert {identifying(name) for name in (*VITAL_SIGNS, "patient", "second")} == {""}


def test_such_a_file_is_refused_with_every_column_that_must_go() -> None:
    text = "patient,second,spo2,Surname,DOB,shoe size\np1,0,97,x,y,z\n"

    with pytest.raises(Refused) as refused:
        read_trends_file(io.BytesIO(text.encode()), frozenset(VITAL_SIGNS))

    told = {fault.column: fault.reason for fault in refused.value.faults}
    assert told == {
        "Surname": "this looks like a name: take the column out",
        "DOB": "this looks like a date of birth: take the column out",
        "shoe size": "unknown column",
    }


@pytest.mark.parametrize(
    "name", ["p1", "17", "a", "boat-3/12", "bidmc_01", "child 4", "2026", "ab", "pat_3"]
)
def test_what_keeps_patients_apart_and_tells_no_more_is_taken(name: str) -> None:
    check_patients([name])


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("Cruz Bell", "a name"),
        ("Bell, Cruz", "a name"),
        ("Bell", "a name"),
        ("BELL^CRUZ", "a name"),
        ("cruz_bell", "a name"),
        ("cruz.bell2", "a name"),
        ("2 Mar 1987", "a date"),
        ("02-march-87", "a date"),
        ("1987-03-02", "a date"),
        ("p 2.3.1987", "a date"),
        ("p1 03/02/87", "a date"),
        ("4820173", "a record number"),
        ("485 777 3456", "a record number"),
        ("X1234567", "a record number"),
    ],
)
def test_what_tells_more_is_refused_and_not_repeated(name: str, meant: str) -> None:
    with pytest.raises(Refused) as refused:
        check_patients(["p1", name])

    (fault,) = refused.value.faults
    assert fault.column == "patient"
    assert f"looks like {meant}:" in fault.reason
    assert fault.value is None
    assert name not in str(fault)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("Name: Ada", "a name"),
        ("patient name = Ada", "a name"),
        ("transfer of mr. Lund", "a name"),
        ("DOB 2014", "a date of birth"),
        ("the boy, born 3 May", "a date of birth"),
        ("date of birth: May", "a date of birth"),
        ("MRN 12345", "a record number"),
        ("hospital number 12", "a record number"),
        ("file 4711 0815", "a record number"),
        ("recorded 2024-05-01", "a date"),
        ("recorded on 1 May 2024", "a date"),
        ("Phone: 12", "a way to reach somebody"),
    ],
)
def test_what_is_written_of_a_recording_tells_of_nobody(text: str, meant: str) -> None:
    with pytest.raises(Refused) as refused:
        check_words(text, "origin")

    (fault,) = refused.value.faults
    assert fault.column == "origin"
    assert fault.reason.startswith(f"this seems to tell {meant}: no person may be named")
    assert fault.value is None  # what was found is not told again


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Winter 2025-2026, boat 3",
        "our own boats, names taken out",
        "PhysioNet BIDMC 1.0.0, doi 10.13026/C2208R",
        "City hospital, licence CC BY 4.0: free to use",
        "newborns of the first 10 days",
        "run 12 of the trial, day 3",
        "recorded in May 2024",
    ],
)
def test_what_tells_of_recordings_is_taken(text: str) -> None:
    check_words(text, "name")
