"""Removal of personal data from texts that leave the company."""

from claimlens.redact.kinds import Known, Redacted, Removal, counts
from claimlens.redact.redactor import Redactor

__all__ = ["Known", "Redacted", "Redactor", "Removal", "counts"]
