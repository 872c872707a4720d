"""Seeds stay what they were."""

from __future__ import annotations

from claimlens.stats.seeds import seed_for


def test_a_seed_is_the_same_on_every_machine() -> None:
    """Written down: a change would change the p-values of old reports."""
    assert seed_for(1, "fit", "charger") == seed_for(1, "fit", "charger")
    assert seed_for(1, "fit", "charger") == 6_797_463_493_024_408_634


def test_seeds_differ_by_base_name_and_order() -> None:
    seeds = {
        seed_for(1, "ab", "c"),
        seed_for(1, "a", "bc"),
        seed_for(1, "c", "ab"),
        seed_for(2, "ab", "c"),
        seed_for(1, "abc"),
    }
    assert len(seeds) == 5
    assert all(0 <= seed < 2**63 for seed in seeds)
