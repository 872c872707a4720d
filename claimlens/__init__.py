"""claimlens: from messy warranty claim exports to rates, lives and reports."""

from __future__ import annotations

from claimlens.errors import ClaimlensError
from claimlens.start import open_workspace as open  # the API's verb
from claimlens.version import __version__
from claimlens.workspace import Workspace

__all__ = ["ClaimlensError", "Workspace", "__version__", "open"]
