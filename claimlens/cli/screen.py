"""The one door to the terminal: whatever is printed there is shown, never obeyed."""

from __future__ import annotations

import sys

from rich.console import Console

from claimlens.marks import visible

__all__ = ["errors", "say", "tell", "write_data", "write_drawn"]

errors = Console(stderr=True, highlight=False, soft_wrap=True, emoji=False)


def say(text: str, *, end: str = "\n") -> None:
    """Print an answer on stdout."""
    sys.stdout.write(visible(text) + end)


def tell(text: str, *, end: str = "\n") -> None:
    """Print a message on stderr."""
    errors.print(visible(text), markup=False, end=end)


def write_drawn(text: str) -> None:
    """Print tables on stdout, whose cells went through ``visible`` one by one.

    On a terminal they are drawn with escape sequences of our own.
    """
    sys.stdout.write(text)


def write_data(text: str) -> None:
    """Print CSV or JSON on stdout: as it is into a pipe, made visible on a terminal."""
    sys.stdout.write(visible(text) if sys.stdout.isatty() else text)
