"""The outer bounds that judge a policy until the agency adopts its own.

A value beyond a bound of grade danger that sounds no alarm is unsafe; caution is a note.
Status of each row: P primary text read, S secondary copy read, M from memory, J judgement.
Check: tests/published/test_default_bounds.py.
"""

from app.domain.outer_bounds import OuterBounds, bound

PEWS = "National PEWS England 2023"
PALS = "AHA PALS"
PALS_HYPOTENSION = "AHA PALS hypotension"
MET = "medical emergency team calling criteria"
DEVITA = "medical emergency team calling criteria (DeVita 2004 Qual Saf Health Care 13:251-4)"
BELLOMO = "medical emergency team calling criteria (Bellomo 2003)"
PHOENIX = "Phoenix 2024"
ALS_TACHYCARDIA = "adult life support (unstable tachycardia from 150)"

# fmt: off
_ROWS = (
    bound("heart-rate", ("0 d", "1 y"), "low", "80", "danger", "P", f"{PEWS} (below 80 scores 4)"),
    bound("heart-rate", ("0 d", "1 y"), "high", "220", "danger", "P", f"{PALS} (SVT likely in an infant from 220)"),
    bound("heart-rate", ("0 d", "1 y"), "high", "180", "caution", "P", f"{PEWS} (from 180 scores 4); the 99th centile of healthy infants is 181 at 0-3 months (Fleming 2011)"),
    bound("heart-rate", ("1 y", "5 y"), "low", "60", "danger", "P", f"{PEWS} (below 60 scores 4)"),
    bound("heart-rate", ("1 y", "5 y"), "high", "180", "danger", "P", f"{PALS} (SVT likely in a child from 180)"),
    bound("heart-rate", ("1 y", "5 y"), "high", "170", "caution", "P", f"{PEWS} (from 170 scores 4)"),
    bound("heart-rate", ("5 y", "8 y"), "low", "60", "danger", "P", f"{PEWS} (below 60 scores 4)"),
    bound("heart-rate", ("5 y", "13 y"), "high", "160", "danger", "P", f"{PEWS} (from 160 scores 4)"),
    bound("heart-rate", ("8 y", "13 y"), "low", "50", "danger", "J", "judgement: just under the 1st centile of healthy children (52; Fleming 2011)"),
    bound("heart-rate", ("8 y", "13 y"), "low", "60", "caution", "P", f"{PEWS} (below 60 scores 4)"),
    bound("heart-rate", ("13 y", "16 y"), "low", "40", "danger", "S", MET),
    bound("heart-rate", ("13 y", "16 y"), "high", "150", "danger", "M", ALS_TACHYCARDIA),
    bound("heart-rate", ("13 y", "16 y"), "low", "50", "caution", "P", f"{PEWS} (below 50 scores 4)"),
    bound("heart-rate", ("13 y", "16 y"), "high", "130", "caution", "P", f"{PEWS} (from 130 scores 4)"),
    bound("heart-rate", ("16 y", None), "low", "40", "danger", "S", "medical emergency team calling criteria (Bellomo 2003; DeVita 2004 Qual Saf Health Care 13:251-4)"),
    bound("heart-rate", ("16 y", None), "high", "150", "danger", "M", ALS_TACHYCARDIA),
    bound("heart-rate", ("16 y", None), "high", "130", "caution", "S", "medical emergency team calling criteria; RCP NEWS2 2017 scores 3 from 131"),
    bound("respiratory-rate", ("0 d", "13 y"), "low", "10", "danger", "P", f"{PEWS} (below 10 scores 4)"),
    bound("respiratory-rate", ("0 d", "1 y"), "high", "70", "danger", "P", f"{PEWS} (from 70 scores 4)"),
    bound("respiratory-rate", ("1 y", "5 y"), "high", "60", "danger", "P", f"{PEWS} (from 60 scores 4)"),
    bound("respiratory-rate", ("5 y", "13 y"), "high", "50", "danger", "P", f"{PEWS} (from 50 scores 4)"),
    bound("respiratory-rate", ("0 d", "1 y"), "low", "20", "caution", "P", f"{PEWS} (10-19 scores 2)"),
    bound("respiratory-rate", ("13 y", "16 y"), "low", "8", "danger", "S", MET),
    bound("respiratory-rate", ("13 y", "16 y"), "high", "40", "danger", "P", f"{PEWS} (from 40 scores 4)"),
    bound("respiratory-rate", ("13 y", "16 y"), "low", "10", "caution", "P", f"{PEWS} (below 10 scores 4)"),
    bound("respiratory-rate", ("16 y", None), "low", "8", "danger", "S", DEVITA),
    bound("respiratory-rate", ("16 y", None), "high", "36", "danger", "S", DEVITA),
    bound("respiratory-rate", ("16 y", None), "high", "30", "caution", "S", BELLOMO),
    bound("spo2", ("0 d", "28 d"), "low", "85", "danger", "S", "Bachman 2020 (severe hypoxaemia); the oximeter standard's least default"),
    bound("spo2", ("0 d", "28 d"), "low", "88", "caution", "J", "judgement between Bachman 2020 and the 90-94 target range"),
    bound("spo2", ("28 d", None), "low", "88", "danger", "J", "judgement: lower end of the BTS 2017 hypercapnic target; ward default in Berg 2023"),
    bound("spo2", ("28 d", None), "low", "90", "caution", "S", "NICE NG51 2016; WHO 2012 (at or below 2500 m); medical emergency team calling criteria"),
    bound("spo2", ("28 d", None), "low", "83", "danger", "S", "RCP NEWS2 2017 scale 2 (83 and below scores 3)", when="hypercapnia-risk"),
    bound("spo2", ("16 y", None), "high", "92", "caution", "S", "BTS 2017 target 88-92 (on oxygen)", when="hypercapnia-risk"),
    bound("spo2", ("28 d", None), "low", "87", "caution", "S", "WHO 2012 (replaces 90)", when="above-2500-m"),
    bound("spo2", ("0 d", "28 d"), "high", "95", "caution", "S", "neonatal oxygen practice (alarm 95)", when="on-oxygen"),
    bound("spo2", ("0 d", "28 d"), "high", "98", "danger", "S", "Bachman 2020 (severe hyperoxaemia below 33 weeks)", when="on-oxygen"),
    bound("nibp-systolic", ("0 d", "28 d"), "low", "50", "danger", "P", f"{PEWS} (below 50 scores 4)"),
    bound("nibp-systolic", ("0 d", "28 d"), "low", "60", "caution", "S", PALS_HYPOTENSION),
    bound("nibp-systolic", ("28 d", "1 y"), "low", "70", "danger", "S", PALS_HYPOTENSION),
    bound("nibp-systolic", ("1 y", "5 y"), "low", "70", "danger", "S", f"{PALS_HYPOTENSION} at its lowest (70 + 2 x age)"),
    bound("nibp-systolic", ("1 y", "10 y"), "low", "70 + 2 * age_years", "caution", "S", PALS_HYPOTENSION),
    bound("nibp-systolic", ("5 y", "13 y"), "low", "80", "danger", "S", f"{PALS_HYPOTENSION} at 5 y"),
    bound("nibp-systolic", ("10 y", "13 y"), "low", "90", "caution", "S", PALS_HYPOTENSION),
    bound("nibp-systolic", ("13 y", None), "low", "90", "danger", "S", f"{PALS_HYPOTENSION}; medical emergency team calling criteria"),
    bound("nibp-systolic", ("16 y", None), "low", "110", "caution", "M", "prehospital brain-injury guidance (100 to 110 in different editions)", when="brain-injury"),
    bound("nibp-mean", ("0 d", "1 mo"), "low", "17", "danger", "S", f"{PHOENIX} (below scores 2)"),
    bound("nibp-mean", ("1 mo", "1 y"), "low", "25", "danger", "S", f"{PHOENIX} (below scores 2)"),
    bound("nibp-mean", ("1 y", "2 y"), "low", "31", "danger", "S", f"{PHOENIX} (below scores 2)"),
    bound("nibp-mean", ("2 y", "5 y"), "low", "32", "danger", "S", f"{PHOENIX} (below scores 2)"),
    bound("nibp-mean", ("5 y", "12 y"), "low", "36", "danger", "S", f"{PHOENIX} (below scores 2)"),
    bound("nibp-mean", ("12 y", "18 y"), "low", "38", "danger", "S", f"{PHOENIX} (below scores 2)"),
    bound("nibp-mean", ("0 d", "1 mo"), "low", "31", "caution", "S", f"{PHOENIX} (below scores 1)"),
    bound("nibp-mean", ("1 mo", "1 y"), "low", "39", "caution", "S", f"{PHOENIX} (below scores 1)"),
    bound("nibp-mean", ("1 y", "2 y"), "low", "44", "caution", "S", f"{PHOENIX} (below scores 1)"),
    bound("nibp-mean", ("2 y", "5 y"), "low", "45", "caution", "S", f"{PHOENIX} (below scores 1)"),
    bound("nibp-mean", ("5 y", "12 y"), "low", "49", "caution", "S", f"{PHOENIX} (below scores 1)"),
    bound("nibp-mean", ("12 y", "18 y"), "low", "52", "caution", "S", f"{PHOENIX} (below scores 1)"),
    bound("nibp-mean", ("18 y", None), "low", "65", "caution", "M", "Surviving Sepsis Campaign 2021"),
    bound("etco2", ("0 d", None), "high", "60", "caution", "M", "critical-care practice"),
    bound("etco2", ("0 d", None), "low", "35", "caution", "S", "Lulla 2023 (avoid hyperventilation)", when="brain-injury"),
    bound("etco2", ("0 d", None), "low", "10", "danger", "P", "Levine 1997 NEJM 337:301-6 (10 or less after 20 min)", when="cardiac-arrest"),
    bound("apnoea", ("0 d", "1 y"), "high", "20", "danger", "S", "NIH consensus 1986 (20 s)"),
    bound("apnoea", ("1 y", None), "high", "30", "danger", "M", "critical-care practice"),
    bound("airway-apnoea", ("0 d", "1 y"), "high", "20", "danger", "S", "NIH consensus 1986 (20 s)"),
    bound("airway-apnoea", ("1 y", None), "high", "30", "danger", "M", "critical-care practice"),
    bound("temperature", ("0 d", "28 d"), "low", "36", "caution", "S", "WHO 1997 (moderate hypothermia below 36.0)"),
    bound("temperature", ("16 y", None), "low", "35", "caution", "S", "RCP NEWS2 2017 (35.0 and below scores 3)"),
)
# fmt: on

DEFAULT_BOUNDS = OuterBounds(name="default, not adopted", rows=_ROWS)
