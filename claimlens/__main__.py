"""Run the command line with ``python -m claimlens``."""

from __future__ import annotations

from claimlens.cli import main

main()
