"""claimlens: from messy warranty claim exports to rates, lives and reports."""

from __future__ import annotations

from claimlens.errors import ClaimlensError
from claimlens.workspace import Workspace
from claimlens.workspace import open_workspace as open  # noqa: A004  # the API's verb

__all__ = ["ClaimlensError", "Workspace", "__version__", "open"]

__version__ = "0.1.0"
