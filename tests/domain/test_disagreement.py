"""What each source calls low and high, from its own table."""

from itertools import pairwise

import pytest

from app.domain.ages import Age
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.disagreement import COMPARED, VOICES, Band, Claim, Disagreement, disagreement
from app.domain.outer_bounds import OuterBounds
from app.domain.published_tables import GRADES
from app.domain.vital_signs import VITAL_SIGNS


def band_from(found: Disagreement, start: str) -> Band:
    return next(band for band in found.bands if band.ages.start == Age.parse(start))


def claim_of(vital_sign: str, voice: str, start: str) -> Claim | None:
    found = disagreement(vital_sign)
    place = [v.name for v in found.voices].index(voice)
    return band_from(found, start).claims[place]


@pytest.mark.parametrize(
    ("vital_sign", "voice", "start", "low", "high"),
    [
        # Fleming 2011, web table 5: Birth 90-164, 0-3 mo 107-181
        ("heart-rate", "Healthy children (Fleming 2011)", "0 d", "90–107", "164–181"),
        ("heart-rate", "Healthy children (Fleming 2011)", "8 y", "52", "115"),
        # PALS 2015: infant 90 asleep to 190 awake, toddler and preschool 65 to 140
        ("heart-rate", "PALS normal range", "1 y", "65–80", "120–140"),
        ("heart-rate", "National PEWS 2023", "1 y", "60", "170"),
        ("heart-rate", "NEWS2 2017", "16 y", "41", "131"),
        ("heart-rate", "Medical emergency team", "16 y", "40", "130"),
        ("heart-rate", "Default bound, danger", "1 y", "60", "180"),
        ("heart-rate", "Default bound, caution", "1 y", None, "170"),
        # DeVita 36, Bellomo 30
        ("respiratory-rate", "Medical emergency team", "16 y", "8", "30–36"),
        ("respiratory-rate", "NEWS2 2017", "16 y", "9", "25"),
        # 70 + 2 × age, from 1 to 5 years and from 5 to 8
        ("nibp-systolic", "PALS hypotension", "1 y", "72–80", None),
        ("nibp-systolic", "PALS hypotension", "5 y", "80–86", None),
        ("nibp-systolic", "PALS hypotension", "10 y", "90", None),
        ("nibp-systolic", "Screening (Flynn 2017)", "1 y", None, "98–103"),
        ("nibp-systolic", "Screening (Flynn 2017)", "13 y", None, "120"),
        ("nibp-systolic", "National PEWS 2023", "0 d", "50", "110"),
        # Phoenix 2024: 17 at 0-1 month; 31 at 12-24 months, 32 at 24-60 months score 2 below
        ("nibp-mean", "Phoenix 2024", "1 y", "31–32", None),
        ("nibp-diastolic", "Screening (Flynn 2017)", "13 y", None, "80"),
        # Gemelli 1990: heart rate of girls at 9 months 127 ± 13, of boys at 1 month 150 ± 16
        ("heart-rate", "Healthy infants (Gemelli 1990)", "28 d", "96–118", "153–182"),
        # at 91 and below National PEWS scores 4; NEWS2 scores 3 at 91 and below
        ("spo2", "National PEWS 2023", "1 y", "92", None),
        ("spo2", "NEWS2 2017", "16 y", "92", None),
    ],
)
def test_each_source_speaks_from_its_own_table(
    vital_sign: str, voice: str, start: str, low: str | None, high: str | None
) -> None:
    claim = claim_of(vital_sign, voice, start)

    assert claim is not None
    assert (claim.low and str(claim.low), claim.high and str(claim.high)) == (low, high)


@pytest.mark.parametrize(
    ("voice", "start"),
    [("NEWS2 2017", "13 y"), ("Medical emergency team", "0 d"), ("PALS normal range", "16 y")],
)
def test_a_source_is_silent_where_it_has_no_row(voice: str, start: str) -> None:
    assert claim_of("heart-rate", voice, start) is None


def test_a_source_that_speaks_of_a_part_of_the_band_says_which() -> None:
    claim = claim_of("heart-rate", "Healthy children (Fleming 2011)", "16 y")

    assert claim is not None
    assert str(claim.ages) == "16 y to 18 y"


@pytest.mark.parametrize("vital_sign", COMPARED)
def test_the_bands_are_those_of_the_default_bounds_and_leave_no_age_out(vital_sign: str) -> None:
    bands = disagreement(vital_sign).bands

    assert bands[0].ages.start == Age.parse("0 d")
    assert bands[-1].ages.end is None
    assert all(a.ages.end == b.ages.start for a, b in pairwise(bands))
    edges = {band.ages.start for band in bands}
    plain = [row for row in DEFAULT_BOUNDS.rows if row.when is None]
    assert {row.span.start for row in plain if row.quantity == vital_sign} <= edges


@pytest.mark.parametrize("vital_sign", COMPARED)
def test_the_span_of_lows_and_highs_holds_every_claim(vital_sign: str) -> None:
    for band in disagreement(vital_sign).bands:
        lows = [claim.low for claim in band.claims if claim and claim.low]
        highs = [claim.high for claim in band.claims if claim and claim.high]
        assert band.lows is not None
        assert band.highs is not None
        assert band.lows.least == min(low.least for low in lows)
        assert band.highs.most == max(high.most for high in highs)


def test_the_voices_of_a_vital_sign_are_those_that_speak_of_it() -> None:
    names = {key: [voice.name for voice in disagreement(key).voices] for key in COMPARED}

    assert "Screening (Flynn 2017)" not in names["heart-rate"]
    assert "Healthy children (Fleming 2011)" not in names["nibp-systolic"]
    assert "Phoenix 2024" in [voice.name for voice in disagreement("nibp-mean").voices]


def test_every_voice_speaks_of_something_and_names_its_source() -> None:
    for voice in VOICES:
        assert any(voice.of(sign) for sign in VITAL_SIGNS)
        assert voice.citation
        assert voice.grade in (*GRADES, None)


def test_an_end_that_a_voice_names_is_one_that_it_has() -> None:
    for voice in VOICES:
        assert (voice.low_means is None) == all(line.low is None for line in voice.lines)
        assert (voice.high_means is None) == all(line.high is None for line in voice.lines)


def test_every_ordinary_bound_of_a_compared_vital_sign_is_heard() -> None:
    bounds: OuterBounds = DEFAULT_BOUNDS
    for vital_sign in COMPARED:
        found = disagreement(vital_sign)
        for row in bounds.rows:
            if row.quantity != vital_sign or row.when is not None:
                continue
            band = next(band for band in found.bands if band.ages.start == row.span.start)
            heard = band.lows if row.side == "low" else band.highs
            assert heard is not None
            assert heard.least <= row.at(row.span.start) <= heard.most
