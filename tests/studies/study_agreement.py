"""How often the limits of Cohen's kappa hold, beside kappa and its errors.

Run: python tests/studies/study_agreement.py
"""

from __future__ import annotations

import numpy as np

from claimlens.stats.agreement import cohen_kappa

RUNS = 4_000
SEED = 20240607


def study(classes: int, truth: float, n: int) -> tuple[float, float, float]:
    """Return mean kappa and the share of runs in which either limits hold."""
    rng = np.random.default_rng([SEED, classes, round(100 * truth), n])
    shares = rng.dirichlet(np.full(classes, 2.0))
    joint = truth * np.diag(shares) + (1 - truth) * np.outer(shares, shares)
    tables = rng.multinomial(n, joint.ravel(), size=RUNS)
    found = [cohen_kappa(table.reshape(classes, classes)) for table in tables]
    found = [one for one in found if not one.note]
    held = [one.interval[0] <= truth <= one.interval[1] for one in found]
    naive = [abs(one.kappa - truth) <= 1.959964 * one.standard_error for one in found]
    kappas = [one.kappa for one in found]
    return float(np.mean(kappas)), float(np.mean(held)), float(np.mean(naive))


def main() -> None:
    print("classes  true kappa    n   mean kappa   limits hold   kappa +- 1.96 s.e.")
    for classes in (3, 8, 28):
        for truth in (0.5, 0.8, 0.95):
            for n in (10, 30, 100):
                mean, held, naive = study(classes, truth, n)
                print(
                    f"{classes:7d}  {truth:10.2f}  {n:3d}  {mean:11.3f}"
                    f"  {held:11.1%}  {naive:18.1%}"
                )


if __name__ == "__main__":
    main()
