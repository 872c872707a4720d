"""The learned model: trained, kept, read again, and used where the terms are silent."""

from __future__ import annotations

import hashlib
import io
import json
import os
import pickle
import subprocess
import sys
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from learned_maker import (
    NAMES,
    NO_UNITS,
    NOTHING,
    labels_of,
    lesson_of,
    made_up,
)

from claimlens.classify.danger import danger_pairs
from claimlens.classify.decide import classify
from claimlens.classify.learned import COMPONENT, MODE, Learned, learn
from claimlens.classify.learned_claims import leaning, newest_labels, see_claims
from claimlens.classify.learned_store import FOLDER, forget, load, save, sealed
from claimlens.classify.learned_use import complete, model_says, unusable
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.classify.terms import Terms
from claimlens.errors import SourceError

THRESHOLD = 0.5


@pytest.fixture(scope="module")
def claims() -> pd.DataFrame:
    """Claims that the terms cannot read, all of them labelled."""
    return made_up(160, 1)


@pytest.fixture(scope="module")
def learned(claims: pd.DataFrame, terms: Terms) -> Learned:
    """A model trained on them."""
    made = learn(lesson_of(claims, claims), terms=terms, threshold=THRESHOLD)
    return sealed(made)[0]


def completed(
    texts: pd.DataFrame,
    terms: Terms,
    learned: Learned,
    labels: pd.DataFrame = NOTHING,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return what the terms say, and what stands once the model was asked."""
    fresh = classify(texts, NOTHING, NOTHING, labels, terms=terms, threshold=THRESHOLD)
    done = complete(
        fresh, texts, NOTHING, labels, NO_UNITS, terms=terms, learned=learned
    )
    return fresh, done


def test_what_the_terms_cannot_read_is_learned(learned: Learned, terms: Terms) -> None:
    assert set(learned.heads) == {COMPONENT, MODE}
    fresh_claims = made_up(300, 2, first=5_000)
    before, after = completed(fresh_claims, terms, learned)
    assert (before["component"] == UNCLASSIFIED).mean() > 0.9
    by_model = after["source"] == "model"
    assert by_model.mean() > 0.8
    right = after["component"].to_numpy() == fresh_claims["component"].to_numpy()
    assert right[by_model].mean() >= 0.95
    mode = after["failure_mode"].to_numpy() == fresh_claims["failure_mode"].to_numpy()
    assert mode[by_model].mean() >= 0.9
    assert after.loc[by_model, "confidence"].between(0.5, 0.99).all()
    # the maker's own word is the reason that is given
    for name, component in NAMES.items():
        own = after[by_model & (after["component"] == component)]
        assert own["evidence"].str.contains(name).mean() > 0.9
    assert after["evidence"].str.startswith("model: ")[by_model].all()
    assert (after["evidence"].str.len() <= 160).all()


def test_what_the_terms_decided_stays_as_it_is(learned: Learned, terms: Terms) -> None:
    texts = pd.DataFrame(
        {
            "claim_no": ["A", "B"],
            "narrative": ["charger dead, the kneya is fine", "the kneya quits"],
            "technician_note": None,
            "resolution": None,
        }
    )
    before, after = completed(texts, terms, learned)
    assert before.loc[0, "component"] == "charger"
    pd.testing.assert_frame_equal(before.iloc[[0]], after.iloc[[0]])
    assert after.loc[1, "component"] == "controller"


@pytest.mark.parametrize("said", ["motor", "unclassified"])
def test_a_reviewed_label_always_wins(
    said: str, learned: Learned, terms: Terms
) -> None:
    texts = made_up(1, 3, first=9_000)
    labels = pd.DataFrame(
        {
            "claim_no": texts["claim_no"],
            "component": [said],
            "failure_mode": [None],
            "reviewer": "ann",
            "reviewed_on": "2026-06-01",
        }
    )
    before, after = completed(texts, terms, learned, labels)
    pd.testing.assert_frame_equal(before, after)
    assert after.loc[0, "component"] == said


def test_safety_is_switched_on_and_never_off(
    learned: Learned, terms: Terms, monkeypatch: pytest.MonkeyPatch
) -> None:
    texts = pd.DataFrame(
        {
            "claim_no": ["A", "B"],
            "narrative": [
                "the kneya no longer does what it should, there was smoke",
                "the calpo no longer does what it should",
            ],
            "technician_note": None,
            "resolution": None,
        }
    )
    before, after = completed(texts, terms, learned)
    assert before.loc[0, "safety"] == after.loc[0, "safety"] == "yes"
    assert "danger: " in after.loc[0, "evidence"]
    assert after.loc[1, "safety"] == "no"
    # a fault that can hurt someone, told by nothing but the model
    pair = (after.loc[1, "component"], after.loc[1, "failure_mode"])
    assert after.loc[1, "source"] == "model"
    monkeypatch.setattr(
        "claimlens.classify.learned_use.danger_pairs",
        lambda: danger_pairs() | {pair},
    )
    _, after = completed(texts, terms, learned)
    assert after.loc[1, "safety"] == "yes"
    assert f"danger: decision: {pair[0]}, {pair[1]}" in after.loc[1, "evidence"]


def test_texts_of_which_nothing_is_known_stay_open(
    learned: Learned, terms: Terms
) -> None:
    texts = pd.DataFrame(
        {
            "claim_no": ["A", "B"],
            "narrative": ["zzz qqq", None],
            "technician_note": None,
            "resolution": None,
        }
    )
    _, after = completed(texts, terms, learned)
    assert after["component"].tolist() == [UNCLASSIFIED] * 2
    assert after["source"].tolist() == ["none"] * 2


def test_the_order_of_rows_changes_no_byte(
    claims: pd.DataFrame, terms: Terms, learned: Learned
) -> None:
    shuffled = claims.sample(frac=1.0, random_state=7).reset_index(drop=True)
    again = learn(lesson_of(shuffled, shuffled), terms=terms, threshold=THRESHOLD)
    _, header, arrays = sealed(again)
    _, wanted_header, wanted_arrays = sealed(learned)
    assert header == wanted_header
    assert arrays == wanted_arrays


_BYTES = """
import hashlib
from learned_maker import lesson_of, made_up
from claimlens.classify.learned import learn
from claimlens.classify.learned_store import sealed
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import load_terms
claims = made_up(160, 1)
made = learn(lesson_of(claims, claims), terms=load_terms(load_taxonomy()),
             threshold=0.5)
_, header, arrays = sealed(made)
print(hashlib.sha256(header.encode() + arrays).hexdigest(), made.enabled)
"""


def test_two_processes_write_the_same_bytes() -> None:
    """Each with other string hashes and another number of threads."""
    found = []
    for seed, threads in (("1", "1"), ("2", "2")):
        done = subprocess.run(
            [sys.executable, "-c", _BYTES],
            capture_output=True,
            text=True,
            check=True,
            cwd=Path(__file__).parent,
            env={
                **os.environ,
                "PYTHONHASHSEED": seed,
                "OMP_NUM_THREADS": threads,
                "OPENBLAS_NUM_THREADS": threads,
            },
        )
        found.append(done.stdout)
    assert found[0] == found[1]
    assert found[0].strip().endswith("True")


def test_the_library_is_loaded_by_training_alone() -> None:
    script = (
        "import sys, claimlens, claimlens.cli\n"
        "from claimlens.classify import learned_use, learned_store\n"
        "print(any(name.split('.')[0] == 'sklearn' for name in sys.modules))\n"
    )
    runs = (["-c", script], ["-X", "importtime", "-m", "claimlens", "--help"])
    for arguments in runs:
        done = subprocess.run(
            [sys.executable, *arguments], capture_output=True, text=True, check=True
        )
        assert "True" not in done.stdout
        assert "sklearn" not in done.stderr


def test_it_is_kept_and_read_again(
    learned: Learned, terms: Terms, tmp_path: Path
) -> None:
    assert load(tmp_path) is None
    saved = save(learned, tmp_path)
    back = load(tmp_path)
    assert back is not None
    assert back.digest == saved.digest
    assert back.origin == learned.origin
    assert sealed(back)[1:] == sealed(learned)[1:]
    texts = made_up(80, 4, first=7_000)
    pd.testing.assert_frame_equal(
        completed(texts, terms, back)[1], completed(texts, terms, learned)[1]
    )
    names = {path.name for path in (tmp_path / FOLDER).iterdir()}
    assert len(names) == 2
    assert forget(tmp_path)
    assert load(tmp_path) is None
    assert not forget(tmp_path)


def test_the_header_tells_what_it_was_made_from(
    learned: Learned, terms: Terms, tmp_path: Path
) -> None:
    save(learned, tmp_path)
    header = json.loads((tmp_path / FOLDER / "header.json").read_text("utf-8"))
    origin = header["origin"]
    assert origin["terms"] == terms.digest
    assert origin["reviewed_to"] == "2026-06-02"
    assert origin["known_to"] == "2026-06-03"
    assert origin["reported_to"] == "2026-05-15"
    assert origin["n_reviewed"] == 160
    ways = [row["way"] for row in header["trials"][COMPONENT]["outcomes"]]
    assert ways == ["terms alone", "model alone", "terms and model"]
    assert "on for the component" in header["trials"][COMPONENT]["verdict"]


def test_another_training_set_has_another_digest(
    claims: pd.DataFrame, learned: Learned, terms: Terms
) -> None:
    changed = claims.copy()
    changed.loc[0, "narrative"] = "something else"
    made = learn(lesson_of(changed, changed), terms=terms, threshold=THRESHOLD)
    assert made.origin.training != learned.origin.training
    assert sealed(made)[0].digest != learned.digest


def spoil_bytes(place: Path) -> None:
    [arrays] = place.glob("*.npz")
    blob = bytearray(arrays.read_bytes())
    blob[len(blob) // 2] ^= 1
    arrays.write_bytes(bytes(blob))


def spoil_header(place: Path) -> None:
    (place / "header.json").write_text("{", encoding="utf-8")


def spoil_foreign(place: Path) -> None:
    (place / "header.json").write_text('{"format": "other"}', encoding="utf-8")


def spoil_version(place: Path) -> None:
    path = place / "header.json"
    header = json.loads(path.read_text("utf-8"))
    header["version"] = 99
    path.write_text(json.dumps(header), encoding="utf-8")


def spoil_missing(place: Path) -> None:
    [arrays] = place.glob("*.npz")
    arrays.unlink()


def spoil_classes(place: Path) -> None:
    path = place / "header.json"
    header = json.loads(path.read_text("utf-8"))
    header["heads"][COMPONENT]["classes"].append("another")
    path.write_text(json.dumps(header), encoding="utf-8")


def spoil_path(place: Path) -> None:
    path = place / "header.json"
    header = json.loads(path.read_text("utf-8"))
    header["arrays"]["file"] = "../../elsewhere.npz"
    path.write_text(json.dumps(header), encoding="utf-8")


@pytest.mark.parametrize(
    "spoil",
    [
        spoil_bytes, spoil_header, spoil_foreign, spoil_version, spoil_missing,
        spoil_classes, spoil_path,
    ],
    ids=lambda spoil: spoil.__name__,
)  # fmt: skip
def test_a_damaged_or_foreign_model_says_so(
    spoil: Callable[[Path], None], learned: Learned, tmp_path: Path
) -> None:
    save(learned, tmp_path)
    spoil(tmp_path / FOLDER)
    with pytest.raises(SourceError, match="The learned model cannot be used") as told:
        load(tmp_path)
    assert "claimlens learn" in str(told.value.remedy)
    assert FOLDER in str(told.value.source)


class _Trap:
    """Writes a file when it is unpickled."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> tuple[object, tuple[str, str]]:
        return open, (str(self.path), "w")


def test_no_file_of_a_model_can_run_code(learned: Learned, tmp_path: Path) -> None:
    """Arrays that hold a pickle are refused, even with the right digest."""
    trap = tmp_path / "sprung"
    _, header, _ = sealed(learned)
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name in ("grams", "words", "facts", "rarity"):
            own = io.BytesIO()
            np.save(own, np.array([_Trap(trap)], dtype=object))
            archive.writestr(f"{name}.npy", own.getvalue())
    pickle.loads(pickle.dumps(_Trap(trap))).close()
    assert trap.exists(), "the trap works"
    trap.unlink()
    sha = hashlib.sha256(held.getvalue()).hexdigest()
    told = json.loads(header)
    told["arrays"] = {"file": f"arrays-{sha[:12]}.npz", "sha256": sha}
    place = tmp_path / FOLDER
    place.mkdir()
    (place / "header.json").write_text(json.dumps(told), encoding="utf-8")
    (place / told["arrays"]["file"]).write_bytes(held.getvalue())
    with pytest.raises(SourceError):
        load(tmp_path)
    assert not trap.exists()


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ((date(2026, 5, 15), None, 0.5), None),
        ((date(2026, 5, 14), None, 0.5), "claims up to 2026-05-15, after the cut-off"),
        ((date.max, date(2026, 6, 3), 0.5), None),
        ((date.max, date(2026, 6, 2), 0.5), "labels known on 2026-06-03"),
        ((date.max, None, 0.6), "terms or threshold have changed"),
    ],
)
def test_it_is_not_used_where_it_knows_too_much(
    asked: tuple[date, date | None, float],
    why: str | None,
    learned: Learned,
    terms: Terms,
) -> None:
    as_of, as_known, threshold = asked
    found = unusable(learned, terms, threshold, as_of=as_of, as_known=as_known)
    if why is None:
        assert found is None
    else:
        assert found is not None
        assert why in found


def test_too_few_labels_leave_it_off(claims: pd.DataFrame, terms: Terms) -> None:
    few = learn(lesson_of(claims, claims.head(49)), terms=terms, threshold=THRESHOLD)
    assert not few.enabled
    assert "49 reviewed labels, 50 needed" in few.trials[COMPONENT].verdict
    assert unusable(few, terms, THRESHOLD, as_of=date.max, as_known=None) == ""


def test_claims_that_parts_decide_teach_without_giving_the_answer_away(
    claims: pd.DataFrame, terms: Terms
) -> None:
    """Only parts know that a zwonk is a motor; a label never says it."""
    zwonks = made_up(80, 5, first=3_000).assign(component="motor")
    zwonks["narrative"] = [
        text.rsplit("the ", 1)[0] + "the zwonk " + text.split(" ", 4)[4]
        for text in zwonks["narrative"]
    ]
    parts = pd.DataFrame(
        {
            "claim_no": zwonks["claim_no"],
            "part_no": "MX-1",
            "description": None,
            "component": "motor",
            "unknown": False,
        }
    )
    decided = zwonks[["claim_no", "component"]].assign(
        failure_mode=None, source="part", inspected_on=None
    )
    lesson = lesson_of(
        pd.concat([claims, zwonks], ignore_index=True),
        claims,
        decided=decided,
        parts=parts,
    )
    made = learn(lesson, terms=terms, threshold=THRESHOLD)
    assert made.origin.n_part > 0
    assert not any(name == "part of motor" for name in made.vocabulary.facts)
    texts = zwonks.head(1).assign(
        claim_no="N1", narrative="the zwonk is not what it was"
    )
    _, after = completed(texts, terms, made)
    assert after.loc[0, "component"] == "motor"


def test_the_newest_label_counts(terms: Terms) -> None:
    labels = pd.DataFrame(
        {
            "claim_no": ["A", "A", "B", "C", "D"],
            "component": ["motor", "display", "zwonk", "Unclassified", "BATTERY pack"],
            "failure_mode": ["worn", None, None, None, "nonsense"],
            "reviewer": ["ann", "bob", "ann", "ann", None],
            "reviewed_on": ["2026-01-02", "2026-01-03", "2026-01-01", None, None],
        }
    )
    found = newest_labels(labels, terms.taxonomy)
    assert {k: (v.component, v.failure_mode) for k, v in found.items()} == {
        "A": ("display", None),
        "C": ("unclassified", None),
        "D": ("battery pack", None),
    }


def test_the_leaning_of_the_terms_is_read_from_their_own_words(terms: Terms) -> None:
    """The wording is that of ``classify``: both must agree."""
    texts = pd.DataFrame(
        {
            "claim_no": ["A"],
            "narrative": ["the charger quits"],
            "technician_note": None,
            "resolution": None,
        }
    )
    told = classify(texts, NOTHING, NOTHING, NOTHING, terms=terms, threshold=1.0)
    assert told.loc[0, "component"] == UNCLASSIFIED
    assert leaning(told.loc[0, "evidence"]) == "charger"
    assert leaning(told.loc[0, "evidence"] + "; danger: narrative: smoke") == "charger"
    assert leaning("nothing decides") is None
    [seen] = see_claims(texts, NOTHING, NO_UNITS, told, terms)
    assert dict(seen.facts)["terms lean to charger"] == told.loc[0, "confidence"]


def test_the_account_of_one_claim_tells_the_models_part(
    learned: Learned, terms: Terms
) -> None:
    texts = made_up(1, 6, first=8_000)
    fresh, _ = completed(texts, terms, learned)
    told = model_says(
        fresh, texts, NOTHING, NOTHING, NO_UNITS, terms=terms, learned=learned
    )
    assert learned.digest[:12] in told
    assert texts.loc[0, "component"] in told
    assert "decides)" in told
    labels = labels_of(texts)
    told = model_says(
        fresh, texts, NOTHING, labels, NO_UNITS, terms=terms, learned=learned
    )
    assert "a reviewed label always wins" in told
