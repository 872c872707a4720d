"""claimlens: warranty claims analytics pipeline."""
