"""Read the demo's invented phrases, one file a language.

Lines of a file: ``@section`` opens a list of general phrases, ``== component``
a component, ``n`` its plain name, ``= mode`` a failure mode, ``o`` and ``t``
phrases of owners and technicians. ``== *`` holds phrases for any component
that lacks its own; ``{n}`` stands for the plain name.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

__all__ = ["LANGUAGES", "Phrases", "load_phrases"]

LANGUAGES = ("en", "de", "fr", "nl", "es")
ANY = "*"


@dataclass(frozen=True, slots=True)
class Phrases:
    """Phrases of one language.

    Parameters
    ----------
    general : dict of str to list of str
        Openers, closers, vague complaints, notes without a fault, ...
    names : dict of str to str
        Component to its plain name.
    owner, technician : dict of (component, mode) to list of str
        ``"*"`` as component for any.
    """

    general: dict[str, list[str]] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    owner: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    technician: dict[tuple[str, str], list[str]] = field(default_factory=dict)

    def of(self, who: str, component: str, mode: str) -> list[str]:
        """Return what an owner (``o``) or technician (``t``) may write.

        Raises
        ------
        KeyError
            If the language has no phrase for that mode at all.
        """
        table = self.owner if who == "o" else self.technician
        own = table.get((component, mode))
        return own if own else table[ANY, mode]


@cache
def load_phrases(language: str) -> Phrases:
    """Return the phrases of a language of ``LANGUAGES``."""
    path = Path(__file__).with_name("phrases") / f"{language}.txt"
    phrases = Phrases()
    component = mode = section = ""
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("#") or not line:
            continue
        if line.startswith("@"):
            section = line[1:]
            phrases.general[section] = []
        elif line.startswith("== "):
            component, section = line[3:], ""
        elif line.startswith("= "):
            mode = line[2:]
        elif section:
            phrases.general[section].append(line)
        elif line.startswith("n "):
            phrases.names[component] = line[2:]
        else:
            table = phrases.owner if line[0] == "o" else phrases.technician
            table.setdefault((component, mode), []).append(line[2:])
    return phrases
