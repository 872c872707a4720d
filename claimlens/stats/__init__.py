"""Estimators: arrays of counts in, frozen results out."""

from __future__ import annotations
