"""The version of claimlens, read once by the package and by its build."""

from __future__ import annotations

__all__ = ["__version__"]

__version__ = "0.1.0"
