"""The table that says which share of its failures a region has reported by now."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.analysis.scope import Scope
from claimlens.db import Session

__all__ = ["put_reporting_classes"]


def put_reporting_classes(session: Session, scope: Scope) -> None:
    """Make ``reporting_classes``: the class of each region that has one of its own.

    Parameters
    ----------
    session : Session
        On the warehouse.
    scope : Scope
        With the shares by class.
    """
    classes = scope.reporting.classes
    session.put(
        "reporting_classes",
        pd.DataFrame(
            {
                "region": pd.array(list(classes), dtype="str"),
                "reporting": np.array(list(classes.values()), dtype=int),
            }
        ),
    )
