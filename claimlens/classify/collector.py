"""Keep the garbage collector away where nothing is left for it."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["uncollected"]


@contextmanager
def uncollected() -> Iterator[None]:
    """Keep the garbage collector away: it would walk all terms again and again.

    What compiling and reading leave behind is in no circles, and goes by itself.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
