"""The terms as they are listed: each phrase with the file and line it stands in."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from claimlens.classify.lexicon import Lexicon
from claimlens.classify.taxonomy import Taxonomy, read_rows, shipped
from claimlens.classify.terms import Terms

__all__ = ["NAMING", "Listed", "listed_terms"]

#: Groups whose phrases name a component.
NAMING = frozenset({"part", "lead", "joint", "sign"})
_COLUMNS = ("group", "component", "failure_mode", "weight", "terms")


@dataclass(frozen=True, slots=True)
class Listed:
    """One phrase of a terms file, for one language.

    Parameters
    ----------
    language, file : str
        Code of the language, and the file's name.
    line : int
        Line of the file; the header is 1.
    group : str
        Its group.
    components : tuple of str
        Components that it leads to and that the taxonomy holds.
    missing : tuple of str
        Components and failure mode that the taxonomy lacks.
    mode : str
        Failure mode, empty for none.
    phrase : str
        As it stands in the file, in lower case.
    key : tuple of str
        The stems that are looked for in a text.
    """

    language: str
    file: str
    line: int
    group: str
    components: tuple[str, ...]
    missing: tuple[str, ...]
    mode: str
    phrase: str
    key: tuple[str, ...]

    @property
    def is_left_out(self) -> bool:
        """Tell whether the taxonomy lacks what the row leads to."""
        return bool(self.missing) and (not self.components or self.mode in self.missing)

    @property
    def leads_to(self) -> str:
        """Return what it stands for, in words."""
        return ", ".join(
            part for part in ("; ".join(self.components), self.mode) if part
        )


def listed_terms(
    terms: Terms, extra: Path | None = None, *, replace: Collection[str] = ()
) -> Iterator[Listed]:
    """List every phrase in force, the shipped ones before the workspace's own.

    Parameters
    ----------
    terms : Terms
        Compiled from the same files.
    extra : Path, optional
        The workspace's own file; a row without a language stands in each.
    replace : collection of str, optional
        Languages whose shipped terms are left out.

    Yields
    ------
    Listed
        Language by language, in the order of the files.
    """
    own = "" if extra is None else extra.read_text(encoding="utf-8-sig")
    for code, lexicon in terms.lexicons.items():
        if code not in replace:
            name = f"terms_{code}.csv"
            yield from _rows_of(shipped(name), name, code, lexicon, terms.taxonomy)
        if extra is not None:
            yield from _rows_of(own, extra.name, code, lexicon, terms.taxonomy)


def _rows_of(
    text: str, file: str, code: str, lexicon: Lexicon, taxonomy: Taxonomy
) -> Iterator[Listed]:
    for line, row in read_rows(text, source=file, required=_COLUMNS):
        if (row.get("language") or code).lower() != code:
            continue
        names = [name.strip().lower() for name in row["component"].split(";")]
        mode = row["failure_mode"].lower()
        missing = [n for n in names if n and n not in taxonomy.components]
        if mode and mode not in taxonomy.modes:
            missing.append(mode)
        for phrase in row["terms"].split("|"):
            written = phrase.strip().lower()
            if written:
                yield Listed(
                    code,
                    file,
                    line,
                    row["group"],
                    tuple(n for n in names if n in taxonomy.components),
                    tuple(missing),
                    mode,
                    written,
                    tuple(lexicon.words_of(written)),
                )
