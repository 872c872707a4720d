"""Care of a workspace: what must hold in its warehouse."""

from __future__ import annotations

import pandas as pd

from claimlens.answers import Answers
from claimlens.upkeep.checking import check_warehouse
from claimlens.upkeep.checks import checks_frame

__all__ = ["Upkeep"]


class Upkeep(Answers):
    """What keeps a workspace sound.

    Parameters
    ----------
    folder : Path
        Holds the warehouse.
    settings : Settings
        Rules and limits.
    """

    def check(self) -> pd.DataFrame:
        """Say what must hold in the warehouse, and whether it does.

        Returns
        -------
        pandas.DataFrame
            ``identity, meaning, compared, found, expected, state, breaking``, one
            row a statement; ``state`` is ``held``, ``broken`` or ``not judged``,
            ``breaking`` the first keys that break it.
        """
        deciding = (self.settings, self._terms, self._learned)
        return checks_frame(
            check_warehouse(self.warehouse, deciding, limits=self._limits)
        )
