"""Estimators: arrays of counts in, frozen results out."""

from __future__ import annotations

# Of scipy, modules import ``special`` and ``fft`` by name. Whatever else they use
# (``scipy.optimize``, ``scipy.sparse``, ``scipy.stats``) is written out at the call,
# after ``import scipy``: scipy loads such a part when it is first named, and a
# command that names none does not wait half a second for it.
