"""Fit the linear model and its calibration; alone uses scikit-learn.

The library takes a second to load and is needed by whoever trains only, so it is
asked for by name when a fit begins. What it gives back are plain arrays: a claim is
read without it.
"""

from __future__ import annotations

import warnings
from importlib import import_module

import numpy as np
import scipy
from numpy.typing import NDArray
from scipy.special import logit

from claimlens.classify.learned_head import Calibration

__all__ = ["fit_calibration", "fit_weights"]

# Inverse strength of the penalty; chosen on texts of no maker.
_STRENGTH = 30.0
_SEED = 20240607
# Below this many claims steps would follow the noise (Niculescu-Mizil and Caruana
# 2005, Proc. 22nd ICML, 625-632, see them win from about a thousand on).
_STEPS_FROM = 1_000

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]


def fit_weights(
    rows: scipy.sparse.csr_matrix,
    answers: NDArray[np.str_],
    worth: Floats,
    classes: tuple[str, ...],
) -> tuple[Floats32, Floats32]:
    """Fit one logistic regression a class against all others.

    Parameters
    ----------
    rows : csr_matrix, shape (n, F)
        Training claims.
    answers : ndarray of str, shape (n,)
        Their classes.
    worth : ndarray, shape (n,)
        Weight of each claim, above 0.
    classes : tuple of str, length K
        The classes in order.

    Returns
    -------
    weights : ndarray of float32, shape (K, F)
        Rounded to 4 decimals, so that the last bits of another machine's
        arithmetic do not show. 0 for a class without a claim.
    bias : ndarray of float32, shape (K,)
        -20 for a class without a claim.

    References
    ----------
    .. [1] Yu, Huang, Lin (2011), Machine Learning 85, 41-75 (dual coordinate
       descent, one thread, drawn in the order of a fixed seed).
    """
    linear = import_module("sklearn.linear_model")
    faults = import_module("sklearn.exceptions")
    weights = np.zeros((len(classes), rows.shape[1]), dtype=np.float32)
    bias = np.full(len(classes), -20.0, dtype=np.float32)
    for place, name in enumerate(classes):
        is_it = answers == name
        if not is_it.any() or is_it.all():
            bias[place] = 20.0 if is_it.all() else -20.0
            continue
        model = linear.LogisticRegression(
            C=_STRENGTH, solver="liblinear", dual=True, max_iter=300, tol=0.1,
            random_state=_SEED,
        )  # fmt: skip
        with warnings.catch_warnings():
            # the last digits may wait: the weights are rounded, and judged by what
            # they answer
            warnings.simplefilter("ignore", faults.ConvergenceWarning)
            model.fit(rows, is_it, sample_weight=worth)
        weights[place] = np.round(model.coef_[0], 4)
        bias[place] = round(float(model.intercept_[0]), 4)
    return weights, bias


def fit_calibration(lead: Floats, right: NDArray[np.bool_]) -> Calibration:
    """Fit how often the best class is right, by how far it is ahead.

    Parameters
    ----------
    lead : ndarray, shape (n,)
        Lead of the best class, from models that had not seen the claim.
    right : ndarray of bool, shape (n,)
        Whether it was right.

    Returns
    -------
    Calibration
        A logistic curve with Platt's smoothed targets; from 1,000 claims on
        isotonic steps. Never falls where the score rises.
    """
    if len(lead) >= _STEPS_FROM:
        steps = refit_steps(lead, right)
        return Calibration(kind="isotonic", x=steps[0], y=steps[1])
    n_right, n_wrong = int(right.sum()), int((~right).sum())
    target = np.where(right, (n_right + 1) / (n_right + 2), 1 / (n_wrong + 2))
    linear = import_module("sklearn.linear_model")
    model = linear.LogisticRegression(C=1e4, solver="lbfgs", max_iter=1_000)
    model.fit(
        np.concatenate([lead, lead])[:, np.newaxis],
        np.repeat([1, 0], len(lead)),
        sample_weight=np.concatenate([target, 1 - target]),
    )
    slope, intercept = float(model.coef_[0][0]), float(model.intercept_[0])
    if slope <= 0.0:
        share = (n_right + 1) / (n_right + n_wrong + 2)
        slope, intercept = 0.0, float(logit(share))
    return Calibration(kind="sigmoid", x=(), y=(round(slope, 4), round(intercept, 4)))


def refit_steps(
    lead: Floats, right: NDArray[np.bool_]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the knots of the isotonic curve: leads and shares right, both rising.

    Parameters
    ----------
    lead : ndarray, shape (n,)
        Lead of the best class.
    right : ndarray of bool, shape (n,)
        Whether it was right.

    References
    ----------
    .. [1] Ayer, Brunk, Ewing, Reid, Silverman (1955), Ann. Math. Stat. 26, 641-647.
    """
    isotonic = import_module("sklearn.isotonic")
    model = isotonic.IsotonicRegression(out_of_bounds="clip")
    model.fit(lead, right.astype(float))
    x = tuple(np.round(model.X_thresholds_, 6).tolist())
    return x, tuple(np.round(model.y_thresholds_, 4).tolist())
