"""The command line: parse, call one workspace method, print, exit code."""

from __future__ import annotations

from claimlens.cli.app import app, main

__all__ = ["app", "main"]
