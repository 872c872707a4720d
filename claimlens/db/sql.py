"""Find SQL files, split them into statements, and quote the rare identifier."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import duckdb

from claimlens.errors import QueryError
from claimlens.resources import find

__all__ = ["Script", "load_script", "quote_identifier"]


@dataclass(frozen=True, slots=True)
class Script:
    """One SQL file, split into statements.

    Parameters
    ----------
    name : str
        Path below ``queries/`` without its ending.
    statements : tuple of (str, frozenset of str)
        Each statement's text with the named parameters it takes.
    """

    name: str
    statements: tuple[tuple[str, frozenset[str]], ...]

    @property
    def parameters(self) -> frozenset[str]:
        """Return the parameters that some statement of the file takes."""
        return frozenset().union(*(names for _, names in self.statements))


@cache
def load_script(name: str) -> Script:
    """Read ``queries/<name>.sql``.

    Parameters
    ----------
    name : str
        Such as ``"marts/unit_counts"``.

    Returns
    -------
    Script
        Kept for the life of the process.

    Raises
    ------
    QueryError
        If the file is no SQL that the engine can split.
    """
    text = find(f"queries/{name}.sql").read_text(encoding="utf-8")
    try:
        statements = duckdb.extract_statements(text)
    except duckdb.Error as error:
        raise QueryError(
            f"queries/{name}.sql cannot be read: {error}",
            remedy="install claimlens again, or mend the file",
        ) from error
    return Script(
        name,
        tuple(
            (statement.query, frozenset(statement.named_parameters))
            for statement in statements
        ),
    )


def quote_identifier(name: str, known: frozenset[str]) -> str:
    """Return an identifier ready for SQL.

    Parameters
    ----------
    name : str
        Table name.
    known : frozenset of str
        The names that may stand there.

    Returns
    -------
    str
        In double quotes.

    Raises
    ------
    QueryError
        If the name is not one of the known ones.
    """
    if name not in known or not re.fullmatch(r"[a-z_]+", name):
        raise QueryError(f"{name!r} is no table of the warehouse.")
    return f'"{name}"'
