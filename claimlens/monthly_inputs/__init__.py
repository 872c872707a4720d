"""What the monthly report is made from.

Lives below ``analysis``, ``charts`` and ``report``, because the first fills it
and the other two read it.
"""

from claimlens.monthly_inputs.arrivals import Arrivals, Finding
from claimlens.monthly_inputs.audited import AuditedShare
from claimlens.monthly_inputs.frames import (
    COLUMNS,
    OPEN_COLUMNS,
    RESERVE_COLUMNS,
    RISING_COLUMNS,
    SPARES_COLUMNS,
    TO_COME_COLUMNS,
    UNCLASSIFIED,
)
from claimlens.monthly_inputs.made import (
    HEAD,
    InputDigest,
    MadeBy,
    input_digest,
    is_sealed,
    made_by,
    sealed,
)
from claimlens.monthly_inputs.meta import InputFile, Meta
from claimlens.monthly_inputs.open_claims import WAITS, OpenClaims
from claimlens.monthly_inputs.outstanding import (
    RESERVE_PARTS,
    RESERVE_TOTAL,
    Reserve,
    SpareParts,
)
from claimlens.monthly_inputs.rising import Rising
from claimlens.monthly_inputs.supplier_answers import (
    SupplierAnswers,
    SupplierMoney,
    SupplierQuestions,
)
from claimlens.monthly_inputs.to_come import Assumptions, ToCome
from claimlens.monthly_inputs.values import (
    Backlog,
    Changes,
    LateReports,
    Money,
    MonthCounts,
    MonthlyInputs,
    Quality,
    SafetyClaim,
    SafetyReason,
    ShownCounts,
    Thresholds,
)

__all__ = [
    "COLUMNS",
    "HEAD",
    "OPEN_COLUMNS",
    "RESERVE_COLUMNS",
    "RESERVE_PARTS",
    "RESERVE_TOTAL",
    "RISING_COLUMNS",
    "SPARES_COLUMNS",
    "TO_COME_COLUMNS",
    "UNCLASSIFIED",
    "WAITS",
    "Arrivals",
    "Assumptions",
    "AuditedShare",
    "Backlog",
    "Changes",
    "Finding",
    "InputDigest",
    "InputFile",
    "LateReports",
    "MadeBy",
    "Meta",
    "Money",
    "MonthCounts",
    "MonthlyInputs",
    "OpenClaims",
    "Quality",
    "Reserve",
    "Rising",
    "SafetyClaim",
    "SafetyReason",
    "ShownCounts",
    "SpareParts",
    "SupplierAnswers",
    "SupplierMoney",
    "SupplierQuestions",
    "Thresholds",
    "ToCome",
    "input_digest",
    "is_sealed",
    "made_by",
    "sealed",
]
