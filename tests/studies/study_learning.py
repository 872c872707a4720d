"""What do corrections teach? The learning curve of the model with a simulated reviewer.

Run ``python tests/studies/study_learning.py [SEEDS]``. A reviewer who knows the
truth corrects 0, 50, 100, 200, 300 claims, chosen as a review queue would: of each
hundred 60 of the least confidence and 40 at random. Looked at are claims that
nobody corrected and whose texts nobody has seen: texts are split in three by digest,
into claims to correct, claims to look at, and claims that a replaced part has decided.

Four kinds of claims; those to correct and to look at have no part number:

- the labelled texts of the tests as workshops of one maker would write them: four in
  ten have the maker's own short names in place of the names of parts (lists below,
  unknown to the terms). Of claims that parts have decided a maker has thousands: each
  text of that third stands three times, with other short names, and 1,500 claims of
  the demo in the same jargon stand beside them;
- the same without the claims that parts decide;
- the labelled texts as they are;
- the demo's narratives and notes with terms for English alone: claims in four languages
  that the terms cannot read. The demo writes from few phrases, so this is easy.
"""

from __future__ import annotations

import csv
import hashlib
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.classify.decide import classify
from claimlens.classify.learned import Lesson, learn
from claimlens.classify.learned_use import complete
from claimlens.classify.reading import cleaned, read, spans
from claimlens.classify.taxonomy import UNCLASSIFIED, load_taxonomy
from claimlens.classify.terms import Terms, load_terms
from claimlens.demo import load_truth, make_world

TEXTS = Path(__file__).resolve().parents[1] / "unit" / "classify"
CORRECTIONS = (0, 50, 100, 200, 300)
THRESHOLD = 0.5
JARGON_SHARE = 0.4
HABIT = (0.7, 0.2, 0.1)
N_DEMO, COPIES = 1_500, 3

Truths = NDArray[np.object_]
NONE = pd.DataFrame(columns=["claim_no"])
NO_UNITS = pd.DataFrame(columns=["claim_no", "model", "model_year"])

# Invented: short names of one maker for parts, as stickers, drawings and shop talk
# have them; seven claims in ten use the first, two the second, one the third.
SHORT_NAMES = {
    "battery pack": "bp7 brixa hvp",
    "charger": "ldx3 zupa chgx",
    "motor": "rvm torqa m2x",
    "controller": "cxu2 mosbox kneya",
    "display": "hmi4 pikto dsx",
    "wiring harness": "krake hx9 lmx",
    "connector": "j44 nupsi x12",
    "throttle": "twiga thx1 gx5",
    "pedal-assist sensor": "pasq trq5 kurbo",
    "speed sensor": "vss2 tacko sps9",
    "brake hydraulic": "hbx calpo mc11",
    "brake pad/rotor": "brx rondo fb3",
    "headlight": "flx1 lumo hl6",
    "rear light": "rlx2 rubo tl4",
    "switchgear": "swx lenko hb8",
    "drivetrain": "dtx gibbo cdx5",
    "wheel/spokes": "whx radix wr26",
    "tyre/tube": "pnx gumo ty20",
    "frame": "frx chassa fr1",
    "fork/suspension": "fsx gabbo fk3",
    "steering/headset": "stx steero hs2",
    "seat/seatpost": "sdx sedlo st9",
    "rack/accessories": "rkx cargo7 ac5",
    "kickstand": "ksx standa pk2",
    "mudguard": "mgx splasho fd4",
    "lock/key": "lkx zylo ky1",
    "tracker/alarm": "gtx trako iot2",
    "firmware": "fwx relz sw5",
}


def written_texts() -> pd.DataFrame:
    """Return every labelled text of the tests: text, component, failure_mode."""
    rows = []
    for path in sorted(TEXTS.rglob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows += [row for row in csv.DictReader(file) if "text" in row]
    frame = pd.DataFrame(rows)[["text", "component", "failure_mode"]]
    return frame.drop_duplicates("text", ignore_index=True)


def demo_texts(seed: int, n: int) -> pd.DataFrame:
    """Return narratives and notes of the demo maker with their truth."""
    world = make_world(load_truth(), seed)
    truth = world.claim_truth[["claim_no", "component", "failure_mode"]]
    claims = world.claims.merge(truth, on="claim_no").sample(n, random_state=seed)
    texts = [
        f"{narrative or ''}. {note if isinstance(note, str) else ''}"
        for narrative, note in zip(
            claims["narrative"], claims["technician_note"], strict=True
        )
    ]
    columns = claims[["component", "failure_mode"]].reset_index(drop=True)
    return columns.assign(text=texts)


def in_jargon(text: str, names: dict[str, str], terms: Terms) -> str:
    """Return the text with the names of parts put in the maker's own words."""
    low = cleaned(text)
    reading = read(text, terms)[0]
    for mark in sorted(reading.marks, key=lambda m: -m.first):
        parts = [component for component, _ in mark.entry.parts]
        if mark.entry.group in ("part", "lead", "joint") and parts:
            start, end = spans(text, mark)
            low = low[:start] + names.get(parts[0], low[start:end]) + low[end:]
    return low


def as_claims(texts: pd.DataFrame, prefix: str) -> pd.DataFrame:
    """Return texts as the frame of claims that is classified."""
    return pd.DataFrame(
        {
            "claim_no": [f"{prefix}{number:05d}" for number in range(len(texts))],
            "reported_on": "2026-01-31",
            "narrative": texts["text"].tolist(),
            "technician_note": None,
            "resolution": None,
        }
    )


def queue(read_now: pd.DataFrame, most: int, draw: np.random.Generator) -> list[int]:
    """Return the places of claims in the order in which a person looks at them."""
    unsure = np.argsort(read_now["confidence"].to_numpy(), kind="stable").tolist()
    chance = draw.permutation(len(read_now)).tolist()
    order: dict[int, None] = {}
    for start in range(0, most, 100):
        for source, size in ((unsure, 60), (chance, 40)):
            fresh = [place for place in source if place not in order]
            order.update(dict.fromkeys(fresh[: min(size, start + most)]))
    mixed = list(order)
    return [mixed[i] for i in draw.permutation(len(mixed))][:most]


def thirds(texts: pd.DataFrame, seed: int) -> list[pd.DataFrame]:
    """Split texts in three by digest and seed, so that no text is on two sides."""
    side = np.array(
        [
            int(hashlib.sha256(f"{seed}{text}".encode()).hexdigest(), 16) % 3
            for text in texts["text"]
        ]
    )
    return [texts[side == part].reset_index(drop=True) for part in range(3)]


def maker_words(texts: pd.DataFrame, seed: int, terms: Terms) -> pd.DataFrame:
    """Return the texts with four in ten in the maker's own words."""
    draw = np.random.default_rng(seed)
    options = {name: listed.split() for name, listed in SHORT_NAMES.items()}
    changed = []
    for text in texts["text"]:
        names = {
            name: str(draw.choice(listed, p=HABIT)) for name, listed in options.items()
        }
        own = draw.random() < JARGON_SHARE
        changed.append(in_jargon(text, names, terms) if own else text)
    return texts.assign(text=changed)


@dataclass(frozen=True)
class Claims:
    """The claims of one draw.

    Parameters
    ----------
    taught, held : DataFrame
        Claims that may be corrected, and claims that are looked at.
    decided : DataFrame
        Claims that a replaced part has decided.
    terms : Terms
        What reads them.
    """

    taught: pd.DataFrame
    held: pd.DataFrame
    decided: pd.DataFrame
    terms: Terms


def lesson_of(claims: Claims, pool: pd.DataFrame, corrected: list[int]) -> Lesson:
    """Return what the model learns from once some claims are corrected."""
    other = as_claims(claims.decided, "P")
    labels = pd.DataFrame(
        {
            "claim_no": pool["claim_no"].iloc[corrected].tolist(),
            "component": claims.taught["component"].iloc[corrected].tolist(),
            "failure_mode": claims.taught["failure_mode"].iloc[corrected].tolist(),
            "reviewer": "simulated",
            "reviewed_on": "2026-02-01",
            "known_on": "2026-02-01",
        }
    )
    by_part = pd.DataFrame(
        {
            "claim_no": other["claim_no"],
            "component": claims.decided["component"].tolist(),
            "failure_mode": None,
            "source": "part",
            "inspected_on": None,
        }
    )
    return Lesson(
        texts=pd.concat([pool, other], ignore_index=True),
        parts=NONE,
        findings=NONE,
        labels=labels,
        decided=by_part,
        units=NO_UNITS,
    )


def curve(claims: Claims, seed: int) -> Iterator[dict[str, object]]:
    """Yield what each number of corrections does to the held-out claims."""
    draw = np.random.default_rng(seed)
    terms = claims.terms
    pool, asked = as_claims(claims.taught, "T"), as_claims(claims.held, "H")
    read_pool = classify(pool, NONE, NONE, NONE, terms=terms, threshold=THRESHOLD)
    read_held = classify(asked, NONE, NONE, NONE, terms=terms, threshold=THRESHOLD)
    order = queue(read_pool, max(CORRECTIONS), draw)
    truth = claims.held["component"].to_numpy()
    for number in CORRECTIONS:
        lesson = lesson_of(claims, pool, order[:number])
        learned = learn(lesson, terms=terms, threshold=THRESHOLD)
        said = read_held
        if learned.enabled:
            said = complete(
                read_held, asked, NONE, NONE, NO_UNITS, terms=terms, learned=learned
            )
        yield figures(said, truth, seed, number, on="component" in learned.heads)


def draws() -> Iterator[tuple[str, Callable[[int], Claims]]]:
    """Yield the kinds of claims and how each is drawn."""
    terms = load_terms(load_taxonomy())
    english = load_terms(load_taxonomy(), languages=("en",))
    written = written_texts()
    nobody = written.iloc[:0]

    def jargon(seed: int, n_demo: int) -> Claims:
        taught, held, decided = thirds(written, seed)
        others = [nobody]
        if n_demo:
            listed = [*[decided] * COPIES, demo_texts(seed, n_demo)]
            others = [
                maker_words(some, 1_000 * (place + 1) + seed, terms)
                for place, some in enumerate(listed)
            ]
        return Claims(
            maker_words(taught, seed, terms),
            maker_words(held, seed + 500, terms),
            pd.concat(others, ignore_index=True),
            terms,
        )

    def plain(seed: int) -> Claims:
        taught, held, decided = thirds(written, seed)
        others = pd.concat([decided, demo_texts(seed, N_DEMO)], ignore_index=True)
        return Claims(taught, held, others, terms)

    def unread(seed: int) -> Claims:
        taught, held, _ = thirds(demo_texts(seed, N_DEMO), seed)
        return Claims(taught, held, nobody, english)

    yield (
        "four in ten in the maker's own words, other claims decided by parts",
        lambda seed: jargon(seed, N_DEMO),
    )
    yield (
        "four in ten in the maker's own words, no claim decided by a part",
        lambda seed: jargon(seed, 0),
    )
    yield "texts as they are, other claims decided by parts", plain
    yield (
        "the demo's claims with terms for English alone, none decided by a part",
        unread,
    )


def figures(
    said: pd.DataFrame, truth: Truths, seed: int, number: int, *, on: bool
) -> dict[str, object]:
    """Return the shares of the claims that nobody corrected."""
    answer = said["component"].to_numpy()
    decided = answer != UNCLASSIFIED
    right = (answer == truth) & decided
    by_model = (said["source"] == "model").to_numpy()
    return {
        "seed": seed,
        "corrections": number,
        "n": len(truth),
        "on": on,
        "unclassified": float((~decided).mean()),
        "right": float(right.mean()),
        "wrong": float((decided & ~right).sum() / decided.sum()),
        "model_wrong": int((~right & by_model).sum()),
        "model_decided": int(by_model.sum()),
    }


def show(kind: str, rows: list[dict[str, object]], n_seeds: int) -> None:
    """Print one table."""
    table = pd.DataFrame(rows)
    print(f"\n{kind}: {n_seeds} draws of about {table['n'].mean():.0f} claims\n")
    print(
        "| corrections | model on in | unclassified | right "
        "| wrong, of the decided | decided by the model: wrong |\n"
        "|---|---|---|---|---|---|"
    )
    for number, own in table.groupby("corrections"):
        wrong, of = own["model_wrong"].sum(), own["model_decided"].sum()
        print(
            f"| {number} | {own['on'].sum()} of {n_seeds} "
            f"| {own['unclassified'].mean():.1%} | {own['right'].mean():.1%} "
            f"| {own['wrong'].mean():.1%} "
            f"| {f'{wrong / of:.1%}' if of else '-'} |",
            flush=True,
        )


def main() -> None:
    """Print the tables."""
    n_seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    seeds = range(1, n_seeds + 1)
    for kind, make in draws():
        show(kind, [row for s in seeds for row in curve(make(s), s)], n_seeds)


if __name__ == "__main__":
    main()
