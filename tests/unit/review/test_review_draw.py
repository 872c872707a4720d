"""Which claims are drawn: by worth, by chance, and with which probability."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.errors import InputError
from claimlens.review.draw import by_chance, draw_repeats, draw_sample, waiting_dangers

AS_OF = date(2026, 4, 30)


def pool(n: int = 400, seed: int = 20240607) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    return pd.DataFrame(
        {
            "claim_no": [f"C-{number:04d}" for number in range(n)],
            "reported_on": pd.Timestamp("2024-01-01")
            + pd.to_timedelta(rng.integers(0, 850, n), unit="D"),
            "is_open": rng.random(n) < 0.01,
            "cost": np.where(rng.random(n) < 0.2, np.nan, rng.gamma(2.0, 60.0, n)),
            "currency": rng.choice(["EUR", "CHF"], n),
            "has_text": rng.random(n) < 0.95,
            "component": "motor",
            "failure_mode": "worn",
            "source": rng.choice(["finding", "narrative"], n),
            "confidence": rng.random(n),
            "safety": np.where(rng.random(n) < 0.2, "yes", "no"),
            "evidence": "words",
            "n_reviewers": np.where(rng.random(n) < 0.1, 1, 0),
        }
    )


def test_dangerous_come_first_then_cost_then_doubt_then_chance() -> None:
    drawn = draw_sample(pool(), as_of=AS_OF, queue=60, audit=40)
    order = list(dict.fromkeys(drawn["reason"]))
    assert order == ["dangerous", "large cost", "unsure", "audit"]
    assert drawn["reason"].value_counts()["audit"] == 40
    assert len(drawn) == 100
    queue = drawn[drawn["stratum"] == "queue"]
    assert (queue["safety"] == "yes").equals(queue["reason"] == "dangerous")


def test_disputed_claims_come_before_those_that_are_only_unsure() -> None:
    frame = pool()
    disputed = frame.index % 40 == 7
    frame.loc[disputed, "evidence"] = "part P1; disagrees: finding 'x' for motor"
    drawn = draw_sample(frame, as_of=AS_OF, queue=60, audit=0)
    named = drawn[drawn["reason"] == "sources disagree"]
    assert 0 < len(named) <= 15
    assert named["evidence"].str.contains("disagrees").all()
    order = list(dict.fromkeys(drawn["reason"]))
    assert order == ["dangerous", "large cost", "sources disagree", "unsure"]


def test_nothing_is_drawn_twice_and_nothing_reviewed_is_asked_again() -> None:
    frame = pool()
    drawn = draw_sample(frame, as_of=AS_OF)
    assert drawn["claim_no"].is_unique
    reviewed = frame.loc[frame["n_reviewers"] > 0, "claim_no"]
    assert not drawn["claim_no"].isin(reviewed).any()


def test_every_fresh_or_open_danger_has_a_place() -> None:
    frame = pool()
    drawn = draw_sample(frame, as_of=AS_OF, queue=60, audit=0)
    waits = frame["n_reviewers"].eq(0) & frame["safety"].eq("yes")
    fresh = frame["reported_on"].gt("2026-03-30") | frame["is_open"]
    assert set(frame.loc[waits & fresh, "claim_no"]) <= set(drawn["claim_no"])


def test_the_least_sure_are_taken_and_those_without_text_last() -> None:
    frame = pool().assign(safety="no", cost=np.nan)
    drawn = draw_sample(frame, as_of=AS_OF, queue=30, audit=0)
    waits = frame[frame["n_reviewers"].eq(0) & frame["has_text"]]
    assert drawn["claim_no"].tolist() == (
        waits.sort_values("confidence")["claim_no"].head(30).tolist()
    )


def test_costs_are_large_within_their_own_currency() -> None:
    frame = pool().assign(safety="no")
    frame.loc[frame["currency"] == "CHF", "cost"] *= 1000
    drawn = draw_sample(frame, as_of=AS_OF, queue=60, audit=0)
    dear = drawn[drawn["reason"] == "large cost"]
    assert set(dear["currency"]) == {"EUR", "CHF"}


def test_the_chance_of_the_audit_is_its_size_over_all_the_rest() -> None:
    frame = pool()
    drawn = draw_sample(frame, as_of=AS_OF, queue=60, audit=40)
    rest = int((frame["n_reviewers"] == 0).sum()) - 60
    audit = drawn[drawn["stratum"] == "audit"]
    assert audit["probability"].tolist() == pytest.approx([40 / rest] * 40)
    assert drawn.loc[drawn["stratum"] == "queue", "probability"].eq(1).all()
    # what the rows stand for is every claim that waits
    assert (1 / drawn["probability"]).sum() == pytest.approx(rest + 60)


def test_a_small_pool_is_drawn_whole() -> None:
    frame = pool(30).assign(n_reviewers=0)
    drawn = draw_sample(frame, as_of=AS_OF, queue=20, audit=40)
    assert len(drawn) == 30
    assert drawn["probability"].eq(1).all()


@settings(max_examples=20, deadline=None)
@given(st.permutations(range(60)))
def test_the_order_of_the_rows_does_not_matter(order: list[int]) -> None:
    frame = pool(60)
    drawn = draw_sample(frame, as_of=AS_OF, queue=10, audit=10)
    shuffled = draw_sample(frame.iloc[order], as_of=AS_OF, queue=10, audit=10)
    pd.testing.assert_frame_equal(drawn, shuffled)


def test_each_claim_of_the_rest_has_the_same_chance_over_the_months() -> None:
    """Over 300 months each of 50 claims is drawn about 60 times (s.d. 6.9)."""
    claim_nos = pd.Series([f"C-{number}" for number in range(50)])
    times = pd.Series(0, index=claim_nos)
    for month in range(300):
        times[by_chance(claim_nos, f"{2000 + month // 12}-{1 + month % 12}", 10)] += 1
    assert times.sum() == 3000
    assert times.min() > 60 - 4 * 6.9
    assert times.max() < 60 + 4 * 6.9


def test_a_second_review_takes_claims_that_one_person_has_reviewed() -> None:
    frame = pool()
    frame.loc[:4, "n_reviewers"] = 2
    drawn = draw_repeats(frame, as_of=AS_OF, again=15)
    assert len(drawn) == 15
    assert drawn["n_reviewers"].eq(1).all()


def test_dangers_that_still_wait_are_counted() -> None:
    frame = pool()
    drawn = draw_sample(frame, as_of=AS_OF, queue=5, audit=0)
    waits = frame["n_reviewers"].eq(0) & frame["safety"].eq("yes")
    assert (
        waiting_dangers(frame, drawn) == waits.sum() - drawn["safety"].eq("yes").sum()
    )


@pytest.mark.parametrize(
    ("sizes", "said"),
    [
        ({"queue": -1}, "--queue must lie from 0 to 100,000; got -1"),
        ({"audit": 100_001}, "--audit must lie from 0"),
        ({"queue": 0, "audit": 0}, "review of no claims"),
    ],
)
def test_sizes_that_make_no_sense_are_refused(sizes: dict[str, int], said: str) -> None:
    with pytest.raises(InputError, match=said):
        draw_sample(pool(), as_of=AS_OF, **sizes)
