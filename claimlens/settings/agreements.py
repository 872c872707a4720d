"""What suppliers pay of the claims on their parts, and what leaves the company."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Self

from pydantic import Field, model_validator

from claimlens.settings.sections import Section

__all__ = ["AgreementSettings", "RedactionSettings"]

Share = Annotated[Decimal, Field(ge=0, le=1)]


class AgreementSettings(Section):
    """One agreement with a supplier on the cost of claims.

    ``parts``: part numbers, ``*`` stands for any ending; all parts where it is left
    out. ``since``, ``until``: first and last day of failure. ``within_months``: only
    failures up to so many months in service. ``share``: of the cost, 0 to 1.
    ``labour``, ``freight``: whether they are shared beside the parts. ``confirmed``:
    only claims whose part an inspection found faulty. The first agreement that fits
    a claim counts.
    """

    supplier: Annotated[str, Field(min_length=1)]
    parts: tuple[Annotated[str, Field(min_length=1)], ...] = ()
    since: date | None = None
    until: date | None = None
    within_months: Annotated[float, Field(gt=0, le=600)] | None = None
    share: Share
    labour: bool = False
    freight: bool = False
    confirmed: bool = False

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.since and self.until and self.since > self.until:
            raise ValueError(f"since {self.since} lies after until {self.until}")
        return self


class RedactionSettings(Section):
    """What is taken out of whatever leaves the company.

    ``serial_characters``: how many characters at the end of a serial stay; whole
    serials where it is left out. ``names``: further names that must not leave.
    ``keep``: words that may stay though they look personal.
    """

    serial_characters: Annotated[int, Field(ge=1, le=40)] | None = None
    names: tuple[Annotated[str, Field(min_length=2)], ...] = ()
    keep: tuple[Annotated[str, Field(min_length=1)], ...] = ()
