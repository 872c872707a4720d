"""Batches on several cores: the same answers, in the same order."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from claimlens import second
from claimlens.classify import many
from claimlens.classify.many import Evidence, classify_batches
from claimlens.classify.terms import Terms
from claimlens.second import usable_cores

ROOT = Path(__file__).resolve().parents[3]
TEXTS = ["Display dead.", "Motor noisy.", "Akku defekt.", "Brake squeals.", "???"]


def _batches() -> list[Evidence]:
    nothing = pd.DataFrame(columns=["claim_no"])
    return [
        Evidence(
            pd.DataFrame({"claim_no": [f"C{n}"], "narrative": [text]}),
            nothing,
            nothing,
            nothing,
        )
        for n, text in enumerate(TEXTS)
    ]


def _answers(terms: Terms, cores: int) -> pd.DataFrame:
    found = classify_batches(_batches(), terms=terms, threshold=0.5, cores=cores)
    return pd.concat(list(found), ignore_index=True)


def test_two_processes_answer_as_one_does(terms: Terms) -> None:
    alone = _answers(terms, 1)
    pd.testing.assert_frame_equal(_answers(terms, 2), alone)
    assert list(alone["claim_no"]) == ["C0", "C1", "C2", "C3", "C4"]
    assert list(alone["component"][:3]) == ["display", "motor", "battery pack"]


def _lost(*_: object) -> pd.DataFrame:
    raise second.ProcessLostError("gone")


def test_what_a_lost_process_did_not_read_is_read_here(
    terms: Terms, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = _answers(terms, 1)
    monkeypatch.setattr(many, "_work", _lost)
    pd.testing.assert_frame_equal(_answers(terms, 2), alone)
    monkeypatch.setattr(sys, "executable", "no such program")
    pd.testing.assert_frame_equal(_answers(terms, 2), alone)


SCRIPT = """
import sys
sys.path.insert(0, sys.argv[1])
import pandas as pd
from claimlens.classify.many import Evidence, classify_batches
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import load_terms
from claimlens.second import usable_cores

no = pd.DataFrame(columns=["claim_no"])
one = Evidence(pd.DataFrame({"claim_no": ["C"], "narrative": ["Display dead."]}),
               no, no, no)
terms = load_terms(load_taxonomy(), languages=["en"])
found = classify_batches([one, one], terms=terms, threshold=0.5, cores=2)
print(*[answer["component"].item() for answer in found])
"""


def test_nothing_that_lies_in_the_current_folder_is_run(tmp_path: Path) -> None:
    # a workspace that came by mail, and its reader stands in it
    here = tmp_path / "mailed"
    here.mkdir()
    ran = tmp_path / "ran"
    for name in ("argparse", "claimlens", "loky", "pandas", "pickle", "struct"):
        (here / f"{name}.py").write_text(f"open({str(ran)!r}, 'a').write({name!r})")
    script = tmp_path / "script.py"
    script.write_text(SCRIPT)
    done = subprocess.run(
        [sys.executable, script, ROOT],
        cwd=here,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert (done.stdout, done.stderr) == ("display display\n", "")
    assert not ran.exists()


def test_at_least_one_core_can_be_used() -> None:
    assert usable_cores() >= 1
