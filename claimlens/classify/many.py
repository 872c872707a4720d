"""Read very many claims: batch by batch, on every core."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future
from contextlib import ExitStack, suppress
from typing import NamedTuple

import pandas as pd

from claimlens.classify.collector import uncollected
from claimlens.classify.decide import classify
from claimlens.classify.terms import Terms
from claimlens.second import ProcessLostError, second_process

__all__ = ["Evidence", "classify_batches"]

# Batches that are on their way at once, for each core.
_HELD = 2


class Evidence(NamedTuple):
    """The frames of one batch of claims, as ``classify`` takes them."""

    claims: pd.DataFrame
    parts: pd.DataFrame
    findings: pd.DataFrame
    labels: pd.DataFrame


# The terms of a process that reads for another one, by digest.
_TERMS: dict[str, Terms] = {}


def _begin(terms: Terms) -> None:
    """Take the terms that every batch is read with, once for all of them."""
    _TERMS[terms.digest] = terms


def _work(digest: str, evidence: Evidence, threshold: float) -> pd.DataFrame:
    return _read(evidence, _TERMS[digest], threshold)


def _read(evidence: Evidence, terms: Terms, threshold: float) -> pd.DataFrame:
    with uncollected():
        return classify(*evidence, terms=terms, threshold=threshold)


def classify_batches(
    batches: Iterable[Evidence], *, terms: Terms, threshold: float, cores: int
) -> Iterator[pd.DataFrame]:
    """Classify batch after batch.

    Parameters
    ----------
    batches : iterable of Evidence
        Drawn as they are needed: two a core are held at once.
    terms : Terms
        Compiled terms.
    threshold : float
        Least confidence that decides, 0 to 1.
    cores : int
        Processes that read at once; with one, this process reads alone.

    Yields
    ------
    DataFrame
        The answers of each batch as ``classify`` gives them, in their order;
        the same for any number of cores.
    """
    with ExitStack() as held:
        others = []
        if cores > 1:
            # those that were started end with the block
            with suppress(ProcessLostError):
                others = [held.enter_context(second_process()) for _ in range(cores)]
        if not others:
            for evidence in batches:
                yield _read(evidence, terms, threshold)
            return
        for other in others:
            other.submit(_begin, terms)
        waiting: deque[tuple[Evidence, Future[pd.DataFrame]]] = deque()
        for place, evidence in enumerate(batches):
            other = others[place % cores]
            answer = other.submit(_work, terms.digest, evidence, threshold)
            waiting.append((evidence, answer))
            if len(waiting) == _HELD * cores:
                yield _answer(*waiting.popleft(), terms, threshold)
        while waiting:
            yield _answer(*waiting.popleft(), terms, threshold)


def _answer(
    evidence: Evidence, answer: Future[pd.DataFrame], terms: Terms, threshold: float
) -> pd.DataFrame:
    """Wait for an answer; read the batch here where its process is lost."""
    try:
        return answer.result()
    except ProcessLostError:
        return _read(evidence, terms, threshold)
