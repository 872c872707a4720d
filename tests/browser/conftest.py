"""One Chromium for all browser tests, where there is one."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "unit" / "report"))

from devtools_pipe import Browser, find_chromium


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Start Chromium with a profile of its own."""
    program = find_chromium()
    if program is None:
        missing = "no Chromium on the path: apt-get install chromium"
        if os.environ.get("CLAIMLENS_NEEDS_BROWSER"):
            pytest.fail(missing)
        pytest.skip(missing)
    started = Browser(program, tmp_path_factory.mktemp("profile"))
    yield started
    started.close()
