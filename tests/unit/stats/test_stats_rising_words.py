"""Rising words: against scipy's exact test, quiet months, and a planted fault."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats.rising_words import rising_words

Q = 0.02


def zipf_words(size: int) -> np.ndarray:
    """Return shares of texts that hold each of ``size`` words, as languages have it."""
    return np.minimum(0.3, 2.0 / np.arange(1, size + 1))


def test_p_values_are_those_of_the_exact_test() -> None:
    for x, y, n, m in [(9, 3, 100, 400), (4, 0, 60, 900), (0, 5, 50, 50)]:
        exact = stats.fisher_exact([[x, n - x], [y, m - y]], alternative="greater")
        at_it = stats.hypergeom(n + m, n, x + y).pmf(x)
        found = rising_words([x], [y], n, m)
        assert found.p_value[0] == pytest.approx(exact.pvalue - at_it / 2, rel=1e-9)


def test_the_tea_of_fisher() -> None:
    """Fisher, The Design of Experiments (1935), ch. 2: 4 of 4 cups, chance 1 in 70."""
    found = rising_words([4], [0], 4, 4)
    assert found.p_value[0] == pytest.approx(0.5 / 70)


def test_quiet_months_raise_no_word_in_at_least_95_percent() -> None:
    rng = np.random.default_rng(20240607)
    shares = zipf_words(4_000)
    raised = 0
    for _ in range(300):
        recent, earlier = rng.binomial(250, shares), rng.binomial(3_000, shares)
        found = rising_words(recent, earlier, 250, 3_000)
        raised += bool(((found.adjusted <= Q) & (recent >= 4)).any())
    assert raised <= 15


def test_a_new_word_in_25_of_3000_texts_comes_first() -> None:
    rng = np.random.default_rng(20240607)
    shares = zipf_words(4_000)
    for recent_texts in (250, 750):
        for _ in range(20):
            recent = np.append(rng.binomial(recent_texts, shares), 25)
            earlier = np.append(rng.binomial(3_000 - recent_texts, shares), 0)
            found = rising_words(recent, earlier, recent_texts, 3_000 - recent_texts)
            assert found.adjusted[-1] <= Q
            assert (found.p_value < found.p_value[-1]).sum() < 3


def test_a_word_that_could_not_be_found_does_not_count_against_others() -> None:
    few = rising_words([8], [1], 100, 400).adjusted[0]
    rare = np.zeros(5_000)
    among = rising_words(np.append(rare, 8), np.append(rare + 1, 1), 100, 400).adjusted[
        -1
    ]
    assert among == few


def test_no_texts_and_no_words_are_answered() -> None:
    assert rising_words([], [], 0, 0).p_value.size == 0
    found = rising_words([0], [0], 0, 0)
    assert found.adjusted[0] == 1.0


def test_more_texts_with_a_word_than_texts_are_refused() -> None:
    with pytest.raises(InputError):
        rising_words([5], [0], 4, 10)
    with pytest.raises(InputError):
        rising_words([-1], [0], 4, 10)
