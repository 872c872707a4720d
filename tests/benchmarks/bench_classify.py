"""Time the reading of a million claims with texts of 200 characters in five languages.

Two populations, made from the demo's phrases: complaints as exports hold them (one
opening, one complaint, what else was noticed, one closing, a slip of the fingers in
one of ten), and texts of sentences drawn at random, of which hardly two are alike.
The memory is the sum of the peaks of all processes.

    python tests/benchmarks/bench_classify.py [claims]
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable, Iterator

import numpy as np
import pandas as pd

from claimlens.classify.decide import explain
from claimlens.classify.many import Evidence, classify_batches
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import load_terms
from claimlens.demo.phrases import LANGUAGES, Phrases, load_phrases
from claimlens.second import usable_cores

BATCH = 10_000
LENGTH = 200
NOTHING = pd.DataFrame(columns=["claim_no"])


def _pools(phrases: Phrases) -> tuple[list[str], list[str], list[str], list[str]]:
    complaints = [
        text.replace("{n}", phrases.names.get(component, "motor"))
        for (component, _), texts in phrases.owner.items()
        for text in texts
    ]
    general = phrases.general
    return complaints, general["opener"], general["aside"], general["closer"]


def _slipped(text: str, at: int) -> str:
    return text[:at] + text[at + 1] + text[at] + text[at + 2 :]


def as_exported(rng: np.random.Generator) -> str:
    """Return a text as an owner writes it, cut or filled to 200 characters."""
    pools = _pools(load_phrases(LANGUAGES[rng.integers(5)]))
    complaints, openers, asides, closers = pools
    parts = [rng.choice(openers), rng.choice(complaints)]
    while len(" ".join(parts)) < LENGTH - 30:
        parts.append(rng.choice(asides))
    parts.append(rng.choice(closers))
    text = " ".join(parts).replace("{km}", str(rng.integers(40, 9000)))[:LENGTH]
    return _slipped(text, int(rng.integers(5, 60))) if rng.random() < 0.1 else text


def at_random(rng: np.random.Generator) -> str:
    """Return sentences about anything, cut to 200 characters."""
    complaints = _pools(load_phrases(LANGUAGES[rng.integers(5)]))[0]
    parts = [rng.choice(complaints)]
    while len(" ".join(parts)) < LENGTH:
        parts.append(rng.choice(complaints))
    return " ".join(parts)[:LENGTH]


def batches(
    make: Callable[[np.random.Generator], str], claims: int
) -> Iterator[Evidence]:
    """Yield batches of claims; a pool of a fifth as many texts is drawn from twice.

    The numbers in them differ, as those of units, dates and distances do.
    """
    rng = np.random.default_rng(20240607)
    pool = [make(rng) for _ in range(min(claims, 200_000))]
    for start in range(0, claims, BATCH):
        count = min(BATCH, claims - start)
        chosen = rng.integers(0, len(pool), count)
        marks = rng.integers(1000, 9999, count)
        texts = [
            f"{pool[i][: LENGTH - 5]} {mark}"
            for i, mark in zip(chosen, marks, strict=True)
        ]
        numbers = [f"C{start + i:08d}" for i in range(count)]
        claims_frame = pd.DataFrame({"claim_no": numbers, "narrative": texts})
        yield Evidence(claims_frame, NOTHING, NOTHING, NOTHING)


def main() -> None:
    """Print seconds, texts a second and megabytes for both populations."""
    claims = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    cores = usable_cores()
    terms = load_terms(load_taxonomy())
    for make in (as_exported, at_random):
        ready = list(batches(make, claims))
        started = time.perf_counter()
        decided = 0
        for answers in classify_batches(ready, terms=terms, threshold=0.5, cores=cores):
            decided += int((answers["component"] != "unclassified").sum())
        seconds = time.perf_counter() - started
        peak = sum(
            resource.getrusage(who).ru_maxrss
            for who in (resource.RUSAGE_SELF, *[resource.RUSAGE_CHILDREN] * cores)
        )
        print(
            f"{make.__name__}: {claims:,} claims on {cores} cores in {seconds:.1f} s,"
            f" {claims / seconds:,.0f} a second, {decided / claims:.1%} decided,"
            f" at most {peak / 1024:,.0f} MB"
        )
    one = next(batches(as_exported, 1))
    started = time.perf_counter()
    explain(*one, terms=terms)
    print(f"explaining one claim: {time.perf_counter() - started:.3f} s")


if __name__ == "__main__":
    main()
