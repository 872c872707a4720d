"""The demo maker: an invented maker's data, drawn from a written truth."""

from claimlens.demo.exports import (
    Export,
    FileTruth,
    RowTruth,
    expected_flags,
    make_exports,
    write_exports,
    write_settings,
)
from claimlens.demo.truth import Truth, load_truth
from claimlens.demo.world import World, make_world, write_canonical

__all__ = [
    "Export",
    "FileTruth",
    "RowTruth",
    "Truth",
    "World",
    "expected_flags",
    "load_truth",
    "make_exports",
    "make_world",
    "write_canonical",
    "write_exports",
    "write_settings",
]
