"""When a pattern word may be said."""

from __future__ import annotations

from typing import Any

import pytest

from claimlens.errors import InputError
from claimlens.stats import weibull

NAN = float("nan")


@pytest.mark.parametrize(
    "case",
    [
        ((0.4, 0.8), 30, 0.4, (0.4, 0.9), "early-life", "0.40 to 0.80"),
        ((1.2, 2.4), 30, 0.4, (1.1, 2.6), "wear-out", "1.20 to 2.40"),
        ((0.8, 1.3), 60, 0.4, (0.7, 1.5), "random", "0.80 to 1.30"),
        ((0.4, 0.8), 7, None, (0.3, 0.9), "early-life", "0.40"),
        ((0.4, 0.8), 4, None, (0.3, 0.9), "undecided", "4 failures, 5 needed"),
        ((0.5, 1.3), 9, None, (0.5, 1.3), "undecided", "from 0.50 to 1.30"),
        ((0.8, 1.6), 30, 0.5, (0.8, 1.6), "undecided", "from 0.80 to 1.60"),
        ((0.4, 0.8), 30, 0.04, (0.4, 0.8), "undecided", "Weibull does not follow"),
        ((0.4, 0.8), 30, None, (0.4, 0.8), "undecided", "not tested"),
        ((0.4, 0.8), 30, NAN, (0.4, 0.8), "undecided", "not tested"),
        ((0.4, 0.8), 30, 0.4, None, "undecided", "no fit by build quarter"),
        ((0.4, 0.8), 30, 0.4, (NAN, NAN), "undecided", "no fit by build quarter"),
        ((0.4, 0.8), 30, 0.4, (0.7, 1.3), "undecided", "see windows"),
        ((0.4, 0.8), 30, 0.4, (0.3, 1.1), "undecided", "too thin"),
        ((1.2, 2.0), 30, 0.4, (0.6, 1.4), "undecided", "see windows"),
        ((NAN, NAN), 30, 0.4, (0.4, 0.8), "undecided", "cannot be estimated"),
    ],
)
def test_a_word_needs_interval_fit_and_build_quarters(case: tuple[Any, ...]) -> None:
    """A case: interval, failures, fit p, stratified interval; word, reason."""
    *inputs, word, reason = case
    found = weibull.pattern(*inputs)
    assert found.word == word
    assert reason in found.reason


def test_a_lack_of_data_is_never_called_random() -> None:
    assert weibull.pattern((0.0, float("inf")), 50, 0.5, (0.1, 9.0)).word == "undecided"


def test_limits_out_of_order_are_refused() -> None:
    with pytest.raises(InputError, match=r"\(lower, upper\)"):
        weibull.pattern((1.2, 0.7), 30, 0.4, (0.4, 0.8))
