"""The demo's default world, drawn once for these tests."""

from __future__ import annotations

import pytest

from claimlens.demo import Export, World, load_truth, make_exports, make_world


@pytest.fixture(scope="session")
def demo_world() -> World:
    """Return the world behind ``demo_data/``."""
    return make_world(load_truth())


@pytest.fixture(scope="session")
def demo_exports(demo_world: World) -> dict[str, Export]:
    """Return its exports by file name."""
    return {export.name: export for export in make_exports(demo_world)}
