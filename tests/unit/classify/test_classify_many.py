"""Batches on several cores: the same answers, in the same order."""

from __future__ import annotations

import pandas as pd

from claimlens.classify.many import Evidence, classify_batches
from claimlens.classify.terms import Terms
from claimlens.second import usable_cores

TEXTS = ["Display dead.", "Motor noisy.", "Akku defekt.", "Brake squeals.", "???"]


def _batches() -> list[Evidence]:
    nothing = pd.DataFrame(columns=["claim_no"])
    return [
        Evidence(
            pd.DataFrame({"claim_no": [f"C{n}"], "narrative": [text]}),
            nothing,
            nothing,
            nothing,
        )
        for n, text in enumerate(TEXTS)
    ]


def _answers(terms: Terms, cores: int) -> pd.DataFrame:
    found = classify_batches(_batches(), terms=terms, threshold=0.5, cores=cores)
    return pd.concat(list(found), ignore_index=True)


def test_two_processes_answer_as_one_does(terms: Terms) -> None:
    alone = _answers(terms, 1)
    pd.testing.assert_frame_equal(_answers(terms, 2), alone)
    assert list(alone["claim_no"]) == ["C0", "C1", "C2", "C3", "C4"]
    assert list(alone["component"][:3]) == ["display", "motor", "battery pack"]


def test_at_least_one_core_can_be_used() -> None:
    assert usable_cores() >= 1
