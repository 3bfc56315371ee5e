"""The annex read back by another program: what was found is what is printed."""

from dataclasses import replace

from app.domain.evidence import Evidence, Policy, Used
from app.domain.evidence_making import find_evidence
from app.domain.outer_bounds import OuterBounds, bound
from app.domain.replay_lines import nibp_interval_s
from app.exchange.evidence_json import evidence_json, packed_evidence, unpacked_evidence
from app.exchange.paper_evidence import PrintedAnswer, evidence_pdf
from tests import recorded
from tests.builders import NOW
from tests.policy_papers import draft_paper, profile, signed_paper
from tests.printed import press, text

BOUNDS = OuterBounds(
    "version 2, signed by Dana Sund",
    (bound("heart-rate", ("1 y", "5 y"), "high", "165", "danger", "J", "by us"),),
)


def evidence(*, synthetic: str = "") -> Evidence:
    policy = profile()
    category = policy.category("young-child")
    assert category is not None
    assert nibp_interval_s(policy) is None
    found = find_evidence(category, policy, policy, bounds=BOUNDS, trends=[recorded.trends()])
    return Evidence(
        category=category.key,
        policy=Policy(7, "a" * 64),
        against=Policy(6, "b" * 64),
        bounds=BOUNDS.name,
        bounds_fingerprint="c" * 64,
        recordings=(Used(3, "Winter transfers", "d" * 64, synthetic, 2, found.hours),),
        seed=20260302,
        draws=1000,
        **vars(found),
    )


def printed(found: Evidence, *, signed: bool = True) -> str:
    paper = signed_paper() if signed else draft_paper()
    answer = PrintedAnswer("Young-child, 1 y to 5 y", found, NOW, "Dana Sund")
    return text(evidence_pdf(press(), paper, [answer]))


def test_noise_and_silence_are_printed_beside_what_they_were_told_from() -> None:
    told = printed(evidence())

    assert "Annex: noise and silence" in told
    assert "Signed Dana Sund, medical director" in told
    assert "Young-child, 1 y to 5 y" in told
    assert "Heart rate high 170 /min, 0 s" in told
    assert "1 alarm, 17 s, 1 of 2 patients, worst tenth 100%" in told
    assert "165 /min (danger) 0 of 17 s 0 of 1 0 of 1" in told
    for digit in "abcd":
        assert " ".join([digit * 8] * 8) in told
    assert "1000 draws of whole patients, seed 20260302" in told
    assert "2 March 2026, 09:00 GMT (09:00 UTC) by Dana Sund" in told
    assert "SYNTHETIC" not in told


def test_a_synthetic_recording_is_told_loudly() -> None:
    told = printed(evidence(synthetic="SYNTHETIC: 2 invented patients. Assumed: much."))

    assert told.count("SYNTHETIC") == 2
    assert "no evidence about the sick" in told


def test_the_annex_of_a_draft_says_that_it_is_one() -> None:
    told = printed(evidence(), signed=False)

    assert "DRAFT, not signed" in told
    assert "Signed Dana" not in told


def test_evidence_is_kept_whole_and_says_first_whether_it_is_synthetic() -> None:
    real, invented = evidence(), evidence(synthetic="SYNTHETIC: so")

    assert unpacked_evidence(packed_evidence(real)) == real
    assert unpacked_evidence(packed_evidence(invented)) == invented
    assert list(evidence_json(invented))[:2] == ["form", "synthetic"]
    assert evidence_json(invented)["synthetic"] is True
    assert evidence_json(real)["synthetic"] is False
    assert replace(invented, recordings=real.recordings) == real
