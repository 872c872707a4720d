"""The demo maker: an invented maker's data, drawn from a written truth."""

from claimlens.demo.truth import Truth, load_truth
from claimlens.demo.world import World, make_world, write_canonical

__all__ = ["Truth", "World", "load_truth", "make_world", "write_canonical"]
