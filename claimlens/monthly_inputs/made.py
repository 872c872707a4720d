"""What made a report: written into the head of its page, and read again."""

from __future__ import annotations

import hashlib
import html
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from claimlens.language import LANGUAGES, Language

__all__ = [
    "HEAD",
    "InputDigest",
    "MadeBy",
    "input_digest",
    "is_sealed",
    "made_by",
    "sealed",
]

#: So many characters of a page hold what made it.
HEAD = 4000

_TAG = re.compile(r'<meta name="claimlens-([a-z-]{1,20})" content="([^"<>]{0,600})">')
_SEAL = re.compile(r'(<meta name="claimlens-seal" content=")([0-9a-f]{0,64})(">)')
_HEX = re.compile(r"[0-9a-f]{1,64}")
_INPUTS = re.compile(r"(\d{1,7}) ([0-9a-f]{12})")
_VERSION = re.compile(r"[\w.+-]{1,40}")
_REPORTS = ("monthly", "component", "supplier")


@dataclass(frozen=True, slots=True)
class InputDigest:
    """How many batches were known, and a digest of them in the order of loading."""

    batches: int
    digest: str


def input_digest(digests: Sequence[str]) -> InputDigest:
    """Put the digests of batches together.

    Parameters
    ----------
    digests : sequence of str
        Kind and digest of each batch, in the order of loading.
    """
    text = "\n".join(digests)
    return InputDigest(len(digests), hashlib.sha256(text.encode()).hexdigest()[:12])


_NOTHING = input_digest(())


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBy:
    """What a report was made with, and what it answers.

    Parameters
    ----------
    as_of : date
        Its cut-off.
    version : str
        Version of claimlens.
    settings, terms, model : str
        First digits of the digests; empty for no learned model.
    report : str
        monthly, component or supplier.
    subject : str
        The component or supplier.
    as_known : date or None
        Known-by date; None for all that was loaded.
    language : str
        Of the page.
    internal : bool
        Whether texts and serials were kept as they are.
    inputs : InputDigest
        Of the batches that were known.
    figures : str
        First digits of the digest of all figures of its tables.
    last : MadeBy or None
        The earlier report that this one compares itself to.
    """

    as_of: date
    version: str
    settings: str
    terms: str
    model: str = ""
    report: str = "monthly"
    subject: str = ""
    as_known: date | None = None
    language: Language = "en"
    internal: bool = False
    inputs: InputDigest = _NOTHING
    figures: str = ""
    last: MadeBy | None = None

    def tags(self) -> tuple[tuple[str, str], ...]:
        """Return names and contents of the tags in the head of the page.

        The seal comes last, still empty: `sealed` fills it in.
        """
        last = self.last
        told = {
            "report": self.report,
            "subject": self.subject,
            "as-of": self.as_of.isoformat(),
            "as-known": self.as_known.isoformat() if self.as_known else "",
            "language": self.language,
            "internal": "yes" if self.internal else "",
            "version": self.version,
            "settings": self.settings,
            "terms": self.terms,
            "model": self.model,
            "inputs": f"{self.inputs.batches} {self.inputs.digest}",
            "figures": self.figures,
            "last": (
                f"{last.as_of} {last.version} {last.settings} {last.terms}"
                if last
                else ""
            ),
        }
        return (*((name, text) for name, text in told.items() if text), ("seal", ""))


def made_by(page: str) -> MadeBy | None:
    """Read what made a page; None where its head does not say it.

    Parameters
    ----------
    page : str
        HTML from anywhere; only its beginning is looked at.
    """
    found = _TAG.findall(page[:HEAD])
    told = {name: html.unescape(text) for name, text in found}
    if len(told) != len(found):
        return None
    try:
        return _made(told)
    except (KeyError, ValueError):
        return None


def _made(told: dict[str, str]) -> MadeBy:
    """Build it from names and contents; KeyError or ValueError where one is amiss."""
    [report] = [name for name in _REPORTS if name == told["report"]]
    [language] = [name for name in LANGUAGES if name == told["language"]]
    [(batches, digest)] = _INPUTS.findall(told["inputs"])
    as_known = told.get("as-known")
    subject = told.get("subject", "")
    if bool(subject) == (report == "monthly"):
        raise ValueError("a subject where none is due, or none")
    return MadeBy(
        as_of=date.fromisoformat(told["as-of"]),
        version=_matching(_VERSION, told["version"]),
        settings=_matching(_HEX, told["settings"]),
        terms=_matching(_HEX, told["terms"]) if "terms" in told else "",
        model=_matching(_HEX, told["model"]) if "model" in told else "",
        report=report,
        subject=subject,
        as_known=date.fromisoformat(as_known) if as_known else None,
        language=language,
        internal=told.get("internal") == "yes",
        inputs=InputDigest(int(batches), digest),
        figures=_matching(_HEX, told["figures"]) if "figures" in told else "",
        last=_last(told["last"]) if "last" in told else None,
    )


def _last(text: str) -> MadeBy:
    """Read what the earlier report was made with."""
    as_of, version, settings, terms = text.split(" ")
    return MadeBy(
        as_of=date.fromisoformat(as_of),
        version=_matching(_VERSION, version),
        settings=_matching(_HEX, settings),
        terms=_matching(_HEX, terms) if terms else "",
    )


def _matching(form: re.Pattern[str], text: str) -> str:
    if not form.fullmatch(text):
        raise ValueError(text)
    return text


def sealed(page: str) -> str:
    """Write into a page the digest of all the rest of it.

    Parameters
    ----------
    page : str
        With an empty tag for the seal.
    """
    bare = _SEAL.sub(r"\1\3", page, count=1)
    digest = hashlib.sha256(bare.encode("utf-8")).hexdigest()
    return _SEAL.sub(rf"\g<1>{digest}\g<3>", bare, count=1)


def is_sealed(page: str) -> bool:
    """Tell whether a page is what it was when it was made.

    Parameters
    ----------
    page : str
        HTML. Its seal guards against slips and edits, not against somebody who
        makes a new one: whether the warehouse gives the page tells that.
    """
    return _SEAL.search(page[:HEAD]) is not None and sealed(page) == page
