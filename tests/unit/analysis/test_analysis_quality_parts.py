"""The parts of the quality on rows given here, without a warehouse."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from claimlens.analysis.quality_accuracy import (
    accuracy_records,
    mode_records,
    safety_records,
    series_records,
)
from claimlens.analysis.quality_audit import Audit, read_audit, settled
from claimlens.analysis.quality_bounds import bound_records
from claimlens.analysis.quality_drift import (
    LANGUAGE_TEXTS,
    arriving_months,
    language_records,
    share_drift_records,
    unclassified_records,
)
from claimlens.analysis.quality_records import Record
from claimlens.analysis.quality_reviewers import reviewer_records
from claimlens.analysis.quality_scores import calibration_records, score_records
from claimlens.classify.taxonomy import Taxonomy, load_taxonomy

LEVEL = 0.95


@pytest.fixture(scope="module")
def taxonomy() -> Taxonomy:
    return load_taxonomy()


class Drawn:
    """A session that knows the drawn claims only."""

    def __init__(self, rows: pd.DataFrame) -> None:
        self.rows = rows

    def frame(self, name: str) -> pd.DataFrame:
        assert name == "marts/quality_sample"
        return self.rows.copy()


def sampled(
    n_queue: int,
    n_audit: int,
    *,
    of: int = 1000,
    sample: str = "2025-01-31",
    digest: str = "one",
    told: str = "motor",
    danger: str = "no",
    confidence: float = 0.9,
) -> pd.DataFrame:
    """Return drawn claims; numbers start with the sample's name."""
    n = n_queue + n_audit
    return pd.DataFrame(
        {
            "sample": sample,
            "claim_no": [f"{sample}/{i:03d}" for i in range(n)],
            "stratum": ["queue"] * n_queue + ["audit"] * n_audit,
            "probability": [1.0] * n_queue + [n_audit / (of - n_queue)] * n_audit,
            "component": told,
            "failure_mode": "no power",
            "source": "narrative",
            "confidence": confidence,
            "safety": danger,
            "terms_digest": digest,
            "is_in_sight": True,
        }
    )


def said(
    claim_nos: object,
    true: object = "motor",
    *,
    mode: str | None = "no power",
    reviewer: str = "Ana",
    danger: bool | None = None,
    day: str = "2025-02-02",
) -> pd.DataFrame:
    """Return labels of one reviewer."""
    labels = pd.DataFrame({"claim_no": list(claim_nos)})  # type: ignore[call-overload]
    labels["reviewer"] = reviewer
    labels["reviewed_on"] = pd.Timestamp(day)
    labels["true"] = true
    labels["true_mode"] = mode
    labels["true_danger"] = pd.array([danger] * len(labels), dtype="boolean")
    return labels


def audit_of(drawn: pd.DataFrame, labels: pd.DataFrame, taxonomy: Taxonomy) -> Audit:
    return read_audit(Drawn(drawn), labels, taxonomy)  # type: ignore[arg-type]


def one(records: object, measure: str) -> Record:
    [found] = [row for row in records if row["measure"] == measure]  # type: ignore[attr-defined]
    return found


def test_reviewed_claims_stand_for_those_of_their_stratum_not_yet_reviewed(
    taxonomy: Taxonomy,
) -> None:
    drawn = sampled(20, 50)
    whole = audit_of(drawn, said(drawn["claim_no"]), taxonomy)
    part = audit_of(drawn, said(drawn["claim_no"][::2]), taxonomy)
    for audit in (whole, part):
        by_stratum = audit.rows.groupby("stratum")["weight"].sum()
        assert by_stratum.to_dict() == pytest.approx({"queue": 20, "audit": 980})
        assert audit.sizes["claims"].sum() == pytest.approx(1000)
    assert len(part.rows) == 35


def test_the_queue_alone_is_no_measurement(taxonomy: Taxonomy) -> None:
    drawn = sampled(60, 40)
    audit = audit_of(drawn, said(drawn["claim_no"][:60]), taxonomy)
    row = one(accuracy_records(audit, LEVEL), "right")
    assert "value" not in row
    assert "not measured" in row["note"]
    assert "60 reviewed claims of the queue are the hardest" in row["note"]


def test_a_component_that_only_the_queue_holds_is_not_measured(
    taxonomy: Taxonomy,
) -> None:
    """Fifty dangerous frames, all right, say nothing of frames that were missed."""
    drawn = sampled(50, 40)
    drawn.loc[:49, "component"] = "frame"
    labels = said(drawn["claim_no"], ["frame"] * 50 + ["motor"] * 40)
    audit = audit_of(drawn, labels, taxonomy)
    rows = list(score_records(audit, ["frame", "motor"], LEVEL))
    recall = {row.get("component"): row for row in rows if row["measure"] == "recall"}
    assert "value" not in recall["frame"]
    assert recall["frame"]["n"] == 50
    assert recall["motor"]["value"] == 1.0


def test_a_queue_that_nobody_reviewed_is_left_out_and_said(taxonomy: Taxonomy) -> None:
    drawn = sampled(60, 40)
    audit = audit_of(drawn, said(drawn["claim_no"][60:]), taxonomy)
    row = one(accuracy_records(audit, LEVEL), "right")
    assert row["value"] == 1.0
    assert row["lower"] < 0.95
    assert row["note"].startswith("without the 60 claims of the review queue")


def test_a_claim_that_nothing_tells_was_rightly_left_open(taxonomy: Taxonomy) -> None:
    drawn = sampled(0, 40, told="unclassified")
    labels = said(drawn["claim_no"], ["unclassified"] * 30 + ["motor"] * 10)
    records = list(accuracy_records(audit_of(drawn, labels, taxonomy), LEVEL))
    assert one(records, "right")["value"] == pytest.approx(0.75)
    assert one(records, "wrong")["value"] == 0.0
    assert one(records, "unclassified")["value"] == pytest.approx(0.25)


def test_the_newest_label_that_names_a_component_stands() -> None:
    labels = pd.concat(
        [
            said(["C1"], "motor", day="2025-01-01"),
            said(["C1"], "display", reviewer="Bo", day="2025-03-01"),
            said(["C1"], "unclassified", reviewer="Cy", day="2025-04-01"),
        ]
    )
    assert settled(labels)["true"].tolist() == ["display"]


def test_versions_are_told_apart_and_many_audits_of_the_newest_suffice(
    taxonomy: Taxonomy,
) -> None:
    old = sampled(0, 60, sample="2025-01-31", digest="one")
    few = sampled(0, 40, sample="2025-02-28", digest="two")
    many = sampled(0, 100, sample="2025-03-31", digest="two")
    labels = said(pd.concat([old, few, many])["claim_no"])
    labels.loc[labels["claim_no"].str.startswith("2025-01"), "true"] = "display"
    both = audit_of(pd.concat([old, few]), labels, taxonomy)
    series = {row["group"]: row for row in series_records(both, LEVEL)}
    assert list(series) == ["one", "two"]
    assert series["one"]["value"] == 0.0
    assert series["two"]["value"] == 1.0
    right = one(accuracy_records(both, LEVEL), "right")
    assert right["value"] == pytest.approx(0.5)
    assert "2 versions" in right["note"]
    newest = audit_of(pd.concat([old, few, many]), labels, taxonomy)
    assert one(accuracy_records(newest, LEVEL), "right")["value"] == 1.0


def test_only_the_newest_twelve_samples_count(taxonomy: Taxonomy) -> None:
    drawn = pd.concat([sampled(0, 5, sample=f"2025-{m:02d}-28") for m in range(1, 13)])
    older = sampled(0, 5, sample="2024-12-28")
    everything = pd.concat([older, drawn])
    audit = audit_of(everything, said(everything["claim_no"]), taxonomy)
    assert audit.rows["sample"].min() == "2025-01-28"


def test_an_older_name_of_a_component_is_led_home(taxonomy: Taxonomy) -> None:
    drawn = sampled(0, 30, told="Battery-Pack")
    audit = audit_of(drawn, said(drawn["claim_no"], "battery pack"), taxonomy)
    assert one(accuracy_records(audit, LEVEL), "right")["value"] == 1.0


def test_failure_modes_are_judged_where_the_component_is_right(
    taxonomy: Taxonomy,
) -> None:
    drawn = sampled(0, 60)
    labels = said(drawn["claim_no"])
    labels.loc[:9, "true"] = "display"
    labels.loc[10:19, "true_mode"] = "worn"
    labels.loc[20:29, "true_mode"] = None
    records = list(mode_records(audit_of(drawn, labels, taxonomy), LEVEL))
    assert records[0]["value"] == pytest.approx(30 / 40)
    assert records[0]["n"] == 40
    assert records[1]["component"] == "motor"


def test_danger_is_missed_or_called_by_what_the_reviewer_says(
    taxonomy: Taxonomy,
) -> None:
    drawn = pd.concat(
        [
            sampled(0, 40, sample="2025-01-31", danger="yes"),
            sampled(0, 40, sample="2025-02-28", danger="no"),
        ]
    )
    labels = said(drawn["claim_no"], danger=False)
    labels.loc[:29, "true_danger"] = True
    labels.loc[40:43, "true_danger"] = True
    records = list(safety_records(audit_of(drawn, labels, taxonomy), LEVEL))
    assert one(records, "recall")["value"] == pytest.approx(30 / 34)
    assert one(records, "precision")["value"] == pytest.approx(30 / 40)
    assert "30 of 40 reviewed claims" in one(records, "precision")["note"]


def test_without_a_word_on_danger_only_the_recall_is_told(taxonomy: Taxonomy) -> None:
    drawn = sampled(0, 40, danger="yes", told="battery pack")
    labels = said(drawn["claim_no"], "battery pack", mode="swollen")
    records = list(safety_records(audit_of(drawn, labels, taxonomy), LEVEL))
    assert one(records, "recall")["value"] == 1.0
    assert "value" not in one(records, "precision")


def months_of(
    shares: list[float], *, solid: list[float] | None = None, claims: int = 400
) -> pd.DataFrame:
    """Return counts by month: a share left open, a share decided by parts."""
    rows = []
    for i, share in enumerate(shares):
        month = (pd.Period("2023-01") + i).start_time
        by_part = round(claims * (0.5 if solid is None else solid[i]))
        left_open = round(claims * share)
        for component, source, n in (
            ("motor", "part", by_part),
            ("unclassified", "none", left_open),
            ("motor", "narrative", claims - by_part - left_open),
        ):
            rows.append((month, component, source, component, True, n))
    names = ["month", "component", "source", "component_read", "is_counted", "n_claims"]
    return pd.DataFrame(rows, columns=names)


def alarms(months: pd.DataFrame) -> list[bool]:
    records = unclassified_records(months, arriving_months(months))
    return [row.get("alarm", False) for row in records]


def test_texts_that_stop_deciding_are_an_alarm() -> None:
    assert alarms(months_of([0.05] * 15 + [0.2])) == [False] * 15 + [True]


def test_months_whose_parts_are_still_to_come_are_no_alarm_and_say_so() -> None:
    months = months_of([0.05] * 15 + [0.2], solid=[0.5] * 15 + [0.2])
    assert not any(alarms(months))
    *_, last = unclassified_records(months, arriving_months(months))
    assert "may still be arriving" in last["note"]


def test_parts_that_never_came_are_an_alarm_in_the_end() -> None:
    months = months_of([0.05] * 12 + [0.2] + [0.05] * 4, solid=[0.5] * 12 + [0.2] * 5)
    assert alarms(months)[12]


def test_a_component_that_takes_over_is_named() -> None:
    months = months_of([0.0] * 14)
    taken = (months["month"] == months["month"].max()) & (months["source"] == "part")
    months.loc[taken, "component"] = "display"
    *before, last = share_drift_records(months)
    assert not any(row["alarm"] for row in before)
    assert last["alarm"]
    assert last["note"].startswith("display 50% (was 0%), motor 50% (was 100%)")


def test_two_reviewers_are_compared_on_what_both_have_seen() -> None:
    numbers = [f"C{i}" for i in range(20)]
    labels = pd.concat(
        [
            said(numbers, ["motor", "display"] * 10),
            said(
                numbers,
                ["motor", "display"] * 9 + ["display", "display"],
                reviewer="Bo",
            ),
            said(["D1"], reviewer="Bo"),
        ]
    )
    records = list(reviewer_records(labels, LEVEL))
    assert one(records, "disagreement")["value"] == pytest.approx(1 / 20)
    kappa = one(records, "kappa")
    assert kappa["group"] == "Ana, Bo"
    assert kappa["value"] == pytest.approx(0.9)
    assert kappa["lower"] < 0.9 < kappa["upper"]


def test_counts_of_labels_are_certain_and_only_the_others_have_limits(
    taxonomy: Taxonomy,
) -> None:
    months = months_of([0.1] * 12)
    labelled = months["source"] == "part"
    months.loc[labelled, "source"] = "label"
    drawn = sampled(0, 120, of=1200)
    drawn.loc[108:, "component"] = "unclassified"
    labels = said(drawn["claim_no"], ["motor"] * 96 + ["display"] * 24)
    audit = audit_of(drawn, labels, taxonomy)
    rows = list(bound_records(months, audit, ["motor", "display"], LEVEL))
    claims = one(rows, "claims")
    by_label = int(months.loc[labelled, "n_claims"].sum())
    assert claims["component"] == "motor"
    assert claims["lower"] > by_label
    estimate = one(rows, "claims_estimated")
    read = claims["value"] - by_label
    assert estimate["value"] == pytest.approx(by_label + read * 96 / 108)


def test_a_small_audit_gives_bounds_from_precision_and_recall(
    taxonomy: Taxonomy,
) -> None:
    drawn = sampled(0, 40)
    labels = said(drawn["claim_no"], ["motor"] * 36 + ["display"] * 4)
    audit = audit_of(drawn, labels, taxonomy)
    rows = list(
        bound_records(months_of([0.1] * 12), audit, ["motor", "display"], LEVEL)
    )
    [claims] = [row for row in rows if row["measure"] == "claims"]
    n = claims["value"]
    assert claims["lower"] < 0.9 * n < claims["upper"]
    assert "for want of 100 randomly drawn claims" in claims["note"]
    assert not [row for row in rows if row["measure"] == "claims_estimated"]


def test_a_confidence_that_is_off_is_refitted_from_the_other_rows(
    taxonomy: Taxonomy,
) -> None:
    rng = np.random.default_rng(20240607)
    drawn = sampled(0, 300, of=5000)
    drawn["confidence"] = rng.uniform(0.5, 0.99, 300).round(2)
    right = rng.random(300) < drawn["confidence"] - 0.2
    labels = said(drawn["claim_no"], np.where(right, "motor", "display"))
    audit = audit_of(drawn, labels, taxonomy)
    records = list(calibration_records(audit, LEVEL))
    assert one(records, "expected_error")["value"] > 0.12
    assert one(records, "expected_error_refitted")["value"] < 0.12
    steps = [row["value"] for row in records if row["measure"] == "refitted_confidence"]
    assert steps == sorted(steps)
    assert len([row for row in records if row["measure"] == "share_right"]) == 10


def test_few_audited_claims_tell_no_calibration(taxonomy: Taxonomy) -> None:
    drawn = sampled(60, 19)
    audit = audit_of(drawn, said(drawn["claim_no"]), taxonomy)
    [row] = calibration_records(audit, LEVEL)
    assert "value" not in row
    assert row["note"].startswith("not measured")


class Texts:
    """A session that knows some texts only."""

    def __init__(self, per_month: int) -> None:
        months = [(pd.Period("2024-01") + i).start_time for i in range(14)]
        self.rows = pd.DataFrame(
            {
                "claim_no": [f"C{i}" for i in range(14 * per_month)],
                "month": np.repeat(months, per_month),
                "is_unclassified": [i % 10 == 0 for i in range(14 * per_month)],
                "text": ["ein Text", "a text"] * (7 * per_month),
            }
        )

    def frame(self, name: str, parameters: object) -> pd.DataFrame:
        assert name == "marts/quality_texts"
        assert parameters == {"per_month": LANGUAGE_TEXTS}
        return self.rows.copy()


class Tongue:
    """Terms that tell German by one word, and count how often they are asked."""

    def __init__(self) -> None:
        self.asked = 0

    def languages_of(self, tokens: list[str]) -> list[str]:
        self.asked += 1
        return ["de"] if "ein" in tokens else []


@pytest.mark.parametrize(("per_month", "is_sample"), [(40, False), (500, True)])
def test_each_language_has_its_share_and_each_text_is_read_once(
    per_month: int, is_sample: bool
) -> None:
    tongue = Tongue()
    records = list(
        language_records(
            Texts(per_month),  # type: ignore[arg-type]
            tongue,  # type: ignore[arg-type]
            LEVEL,
            frozenset(),
        )
    )
    shares = {
        row["language"]: row for row in records if row["measure"] == "share_by_language"
    }
    assert {name: row["value"] for name, row in shares.items()} == pytest.approx(
        {"de": 0.2, "not told": 0.0}
    )
    assert bool(shares["de"]["note"]) == is_sample
    assert tongue.asked == 2
    charts = [row for row in records if row["measure"] == "share_by_month"]
    assert len(charts) == 28
    assert not any(row.get("alarm") for row in charts)
