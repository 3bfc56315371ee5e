"""The default outer bounds, typed a second time from their published sources.

National PEWS England 2023 score bands (NHS England configuration document, primary), AHA PALS
(tachycardia algorithm and hypotension), medical emergency team calling criteria (DeVita 2004,
Bellomo 2003), Phoenix 2024 (Schlapbach, JAMA 331:665-74), NEWS2 2017, BTS 2017, NICE NG51 2016,
WHO 2012 and 1997, NIH consensus 1986. Rows marked M are from memory, J are judgement; the marks
are held here too.
"""

from app.domain.default_bounds import DEFAULT_BOUNDS

# vital sign, from, to, side, bound, danger or caution, status, circumstance
PRINTED = """
heart-rate | 0 d | 1 y | low | 80 | danger | P |
heart-rate | 0 d | 1 y | high | 220 | danger | P |
heart-rate | 0 d | 1 y | high | 180 | caution | P |
heart-rate | 1 y | 5 y | low | 60 | danger | P |
heart-rate | 1 y | 5 y | high | 180 | danger | P |
heart-rate | 1 y | 5 y | high | 170 | caution | P |
heart-rate | 5 y | 8 y | low | 60 | danger | P |
heart-rate | 5 y | 13 y | high | 160 | danger | P |
heart-rate | 8 y | 13 y | low | 50 | danger | J |
heart-rate | 8 y | 13 y | low | 60 | caution | P |
heart-rate | 13 y | 16 y | low | 40 | danger | S |
heart-rate | 13 y | 16 y | high | 150 | danger | M |
heart-rate | 13 y | 16 y | low | 50 | caution | P |
heart-rate | 13 y | 16 y | high | 130 | caution | P |
heart-rate | 16 y | - | low | 40 | danger | S |
heart-rate | 16 y | - | high | 150 | danger | M |
heart-rate | 16 y | - | high | 130 | caution | S |
respiratory-rate | 0 d | 13 y | low | 10 | danger | P |
respiratory-rate | 0 d | 1 y | high | 70 | danger | P |
respiratory-rate | 1 y | 5 y | high | 60 | danger | P |
respiratory-rate | 5 y | 13 y | high | 50 | danger | P |
respiratory-rate | 0 d | 1 y | low | 20 | caution | P |
respiratory-rate | 13 y | 16 y | low | 8 | danger | S |
respiratory-rate | 13 y | 16 y | high | 40 | danger | P |
respiratory-rate | 13 y | 16 y | low | 10 | caution | P |
respiratory-rate | 16 y | - | low | 8 | danger | S |
respiratory-rate | 16 y | - | high | 36 | danger | S |
respiratory-rate | 16 y | - | high | 30 | caution | S |
spo2 | 0 d | 28 d | low | 85 | danger | S |
spo2 | 0 d | 28 d | low | 88 | caution | J |
spo2 | 28 d | - | low | 88 | danger | J |
spo2 | 28 d | - | low | 90 | caution | S |
spo2 | 28 d | - | low | 83 | danger | S | hypercapnia-risk
spo2 | 16 y | - | high | 92 | caution | S | hypercapnia-risk
spo2 | 28 d | - | low | 87 | caution | S | above-2500-m
spo2 | 0 d | 28 d | high | 95 | caution | S | on-oxygen
spo2 | 0 d | 28 d | high | 98 | danger | S | on-oxygen
nibp-systolic | 0 d | 28 d | low | 50 | danger | P |
nibp-systolic | 0 d | 28 d | low | 60 | caution | S |
nibp-systolic | 28 d | 1 y | low | 70 | danger | S |
nibp-systolic | 1 y | 5 y | low | 70 | danger | S |
nibp-systolic | 1 y | 10 y | low | 70 + 2 per year of age | caution | S |
nibp-systolic | 5 y | 13 y | low | 80 | danger | S |
nibp-systolic | 10 y | 13 y | low | 90 | caution | S |
nibp-systolic | 13 y | - | low | 90 | danger | S |
nibp-systolic | 16 y | - | low | 110 | caution | M | brain-injury
nibp-mean | 0 d | 1 mo | low | 17 | danger | S |
nibp-mean | 1 mo | 1 y | low | 25 | danger | S |
nibp-mean | 1 y | 2 y | low | 31 | danger | S |
nibp-mean | 2 y | 5 y | low | 32 | danger | S |
nibp-mean | 5 y | 12 y | low | 36 | danger | S |
nibp-mean | 12 y | 18 y | low | 38 | danger | S |
nibp-mean | 0 d | 1 mo | low | 31 | caution | S |
nibp-mean | 1 mo | 1 y | low | 39 | caution | S |
nibp-mean | 1 y | 2 y | low | 44 | caution | S |
nibp-mean | 2 y | 5 y | low | 45 | caution | S |
nibp-mean | 5 y | 12 y | low | 49 | caution | S |
nibp-mean | 12 y | 18 y | low | 52 | caution | S |
nibp-mean | 18 y | - | low | 65 | caution | M |
etco2 | 0 d | - | high | 60 | caution | M |
etco2 | 0 d | - | low | 35 | caution | S | brain-injury
etco2 | 0 d | - | low | 10 | danger | P | cardiac-arrest
apnoea | 0 d | 1 y | high | 20 | danger | S |
apnoea | 1 y | - | high | 30 | danger | M |
airway-apnoea | 0 d | 1 y | high | 20 | danger | S |
airway-apnoea | 1 y | - | high | 30 | danger | M |
temperature | 0 d | 28 d | low | 36 | caution | S |
temperature | 16 y | - | low | 35 | caution | S |
"""


def test_every_bound_and_no_other() -> None:
    held = [
        " | ".join(
            [
                row.quantity,
                str(row.span.start),
                str(row.span.end) if row.span.end else "-",
                row.side,
                str(row),
                row.grade,
                row.status,
                row.when or "",
            ]
        ).strip()
        for row in DEFAULT_BOUNDS.rows
    ]

    assert held == PRINTED.strip().splitlines()


def test_every_bound_names_its_source() -> None:
    assert all(row.source for row in DEFAULT_BOUNDS.rows)
