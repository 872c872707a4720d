"""Cautions that stand beside a dangerous claim, by the kind of its danger.

Common practice, no source; local codes come first. They are told too often
rather than too seldom: where a claim does not tell its kind, all of them are.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal

from claimlens.classify.spelling import plain
from claimlens.language import N_
from claimlens.monthly_inputs import SafetyClaim

__all__ = [
    "KINDS",
    "REMINDER",
    "Kind",
    "caution_lines",
    "cautions_of",
    "kinds_of",
    "serious_components",
]

Kind = Literal["battery", "electrical", "brakes", "steering", "structure"]

KINDS: tuple[Kind, ...] = ("battery", "electrical", "brakes", "steering", "structure")

REMINDER = N_(
    "Local law sets whether and when a fault is reported to an authority; claimlens "
    "informs that decision and never makes it."
)
_FIRST = (
    N_("First"),
    N_(
        "Do not ride or charge the unit until a qualified technician has looked at it; "
        "tell the owner so."
    ),
)
_CAUTIONS: dict[Kind, tuple[str, str]] = {
    "battery": (
        N_("Battery"),
        N_(
            "Keep a damaged, hot or swelling lithium battery outdoors and away from "
            "anything that burns; do not charge or open it. Damaged lithium batteries "
            "need their own packing and carrier rules."
        ),
    ),
    "electrical": (
        N_("Electrical"),
        N_("Before any work disconnect the battery and discharge the controller."),
    ),
    "brakes": (
        N_("Brakes"),
        N_(
            "Not even a short ride to the workshop; a qualified technician repairs and "
            "tests them."
        ),
    ),
    "steering": (
        N_("Steering"),
        N_(
            "A qualified technician checks headset, stem, handlebar and linkage before "
            "anyone rides."
        ),
    ),
    "structure": (
        N_("Frame, fork, wheels, seat"),
        N_(
            "A cracked, bent or broken load-bearing part is never ridden on; a "
            "qualified technician replaces it."
        ),
    ),
}
_LAW = (N_("Law"), REMINDER)

_OF_COMPONENT: dict[str, tuple[Kind, ...]] = {
    "battery pack": ("battery", "electrical"),
    "charger": ("battery", "electrical"),
    "motor": ("electrical",),
    "controller": ("electrical",),
    "display": ("electrical",),
    "wiring harness": ("electrical",),
    "connector": ("electrical",),
    "throttle": ("electrical",),
    "pedal-assist sensor": ("electrical",),
    "speed sensor": ("electrical",),
    "headlight": ("electrical",),
    "rear light": ("electrical",),
    "switchgear": ("electrical",),
    "firmware": ("electrical",),
    "brake hydraulic": ("brakes",),
    "brake pad/rotor": ("brakes",),
    "steering/headset": ("steering", "structure"),
    "frame": ("structure",),
    "fork/suspension": ("steering", "structure"),
    "wheel/spokes": ("structure",),
    "seat/seatpost": ("structure",),
    "rack/accessories": ("structure",),
}
_SERIOUS = frozenset({"battery", "brakes", "steering", "structure"})
_HOT_MODES = frozenset({"short circuit/burnt", "overheating", "swollen"})
# Beginnings of words in English, German, French, Dutch and Spanish, without accents:
# what burns, swells or gives a shock is told of whatever part was replaced.
_HEAT = re.compile(
    r"\b(?:fire|flam|smo[ku]|smol|fume|melt|molten|burn|scorch|charr|spark|swell|swoll|"
    r"bulg|bloat|puff|shock|zap|explo|hot\b|feuer|brand|brenn|rauch|qualm|schmelz|"
    r"schmolz|schmor|funk|geschmolz|verschmor|aufgebl|stromschlag|feu\b|fumee|fondu|"
    r"brul|etincel|gonfl|decharge|vuur|rook|gesmolt|verbrand|vonk|opgezw|bolle|schok|"
    r"fuego|llama|humo|derret|quem|chisp|hinch|descarga|calambr)"
)
_BRAKES = re.compile(r"\b(?:brak|brems|gebrems|frein|fren|rem(?:men|t|de|hendel)?\b)")
_STEERING = re.compile(
    r"\b(?:steer|handlebar|stem\b|lenk|gelenkt|guidon|potence|direction|stuur|manillar|"
    r"potencia|direccion)"
)


def serious_components() -> frozenset[str]:
    """Return the components whose faults can hurt somebody by themselves."""
    return frozenset(
        name for name, kinds in _OF_COMPONENT.items() if _SERIOUS & set(kinds)
    )


def cautions_of(components: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return the cautions for checks of some components, as heading and text.

    Parameters
    ----------
    components : iterable of str
        What is going to be checked; those without a danger of their own ask for none.
    """
    needed = {kind for name in components for kind in _OF_COMPONENT.get(name, ())}
    return tuple(_CAUTIONS[kind] for kind in KINDS if kind in needed)


def kinds_of(claim: SafetyClaim) -> tuple[Kind, ...]:
    """Return the kinds of danger whose cautions a claim asks for.

    Parameters
    ----------
    claim : SafetyClaim
        Its component, failure mode and the words read.

    Returns
    -------
    tuple of Kind
        In the order of ``KINDS``; all of them where the component tells none.
    """
    found: set[Kind] = set(_OF_COMPONENT.get(claim.component, KINDS))
    words = plain(claim.words_read)
    if claim.failure_mode in _HOT_MODES or _HEAT.search(words):
        found |= {"battery", "electrical"}
    if _BRAKES.search(words):
        found.add("brakes")
    if _STEERING.search(words):
        found.add("steering")
    return tuple(kind for kind in KINDS if kind in found)


def caution_lines(claims: Iterable[SafetyClaim]) -> tuple[tuple[str, str], ...]:
    """Return the cautions for these claims as heading and text, each once.

    Parameters
    ----------
    claims : iterable of SafetyClaim
        Without any, every caution is returned: it then stands as a reference.
    """
    needed = {kind for claim in claims for kind in kinds_of(claim)} or set(KINDS)
    told = tuple(_CAUTIONS[kind] for kind in KINDS if kind in needed)
    return (_FIRST, *told, _LAW)
