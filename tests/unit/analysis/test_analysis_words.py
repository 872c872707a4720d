"""Rising words through the whole product: planted, seasonal, known, quiet."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from fleet_maker import Fleet, Row, workspace_of

from claimlens.analysis.words import WORD_COLUMNS
from claimlens.demo.phrases import load_phrases
from claimlens.workspace import Workspace

AS_OF = date(2024, 12, 31)
CLAIMS = 1_500


def texts_of(rng: np.random.Generator, count: int, language: str = "en") -> list[str]:
    """Return complaints as the demo's owners write them."""
    phrases = load_phrases(language)
    pool = [
        text.replace("{n}", phrases.names.get(component, "motor"))
        for (component, _), own in phrases.owner.items()
        for text in own
    ]
    asides = phrases.general["aside"]
    return [f"{rng.choice(pool)} {rng.choice(asides)}" for _ in range(count)]


def fleet_of(texts: list[str], days_ago: np.ndarray) -> Fleet:
    units: list[Row] = [
        {
            "serial": "U1",
            "model": "Zellip S1",
            "model_year": 2023,
            "in_service_date": date(2023, 1, 1),
        }
    ]
    claims: list[Row] = [
        {
            "claim_no": f"C{number:05d}",
            "serial": "U1",
            "reported_on": AS_OF - timedelta(days=int(ago)),
            "narrative": text,
        }
        for number, (text, ago) in enumerate(zip(texts, days_ago, strict=True))
    ]
    return Fleet(units, claims)


def workspace_with(planted: list[tuple[str, int]], folder: Path) -> Workspace:
    """Return 1,500 quiet texts of 15 months, and the planted ones."""
    rng = np.random.default_rng(20240607)
    texts = texts_of(rng, CLAIMS) + [text for text, _ in planted]
    days = np.concatenate([rng.integers(0, 455, CLAIMS), [ago for _, ago in planted]])
    settings = '[classify]\nlanguages = ["en"]\n'
    return workspace_of(fleet_of(texts, days), folder, settings)


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    rng = np.random.default_rng(7)
    new = [(f"There is a zibble when I ride {n} km.", 5 + n) for n in range(20)]
    known = [
        (text, int(ago))
        for text, ago in zip(
            ["The kickstand squeaks and squeaks."] * 25,
            rng.integers(0, 30, 25),
            strict=True,
        )
    ]
    winter = [("Snow got into everything.", ago) for ago in (3, 5, 9, 11, 13, 15, 17)]
    winter += [("Snow got into everything.", ago + 366) for ago in range(3, 17, 2)]
    folder = tmp_path_factory.mktemp("words") / "ws"
    return workspace_with(new + known + winter, folder)


def test_an_unknown_word_comes_first_with_its_claims(planted: Workspace) -> None:
    result = planted.words(as_of=AS_OF)
    assert tuple(result.columns) == WORD_COLUMNS
    first = result.iloc[0]
    assert first["word"] in ("zibble", "zibble ride")
    assert first["language"] == "en"
    assert first["earlier_share"] == 0.0
    assert first["means"] is None or first["means"] != first["means"]
    assert "no earlier text" in first["note"]
    numbers = first["examples"].split()
    assert all(CLAIMS <= int(number[1:]) < CLAIMS + 20 for number in numbers)


def test_what_the_terms_know_says_so_and_comes_later(planted: Workspace) -> None:
    result = planted.words(as_of=AS_OF)
    known = result[result["means"].notna()]
    assert "kickstand" in set(known["means"])
    assert known.index.min() > result[result["means"].isna()].index.max()


def test_quiet_texts_raise_nothing(tmp_path: Path) -> None:
    quiet = workspace_with([], tmp_path / "ws")
    months = [date(2024, 12, 31), date(2024, 11, 30), date(2024, 10, 31)]
    assert sum(len(quiet.words(as_of=month)) for month in months) == 0


def test_little_history_raises_nothing(tmp_path: Path) -> None:
    texts = ["The display is dead."] * 30
    fleet = fleet_of(texts, np.arange(30))
    assert workspace_of(fleet, tmp_path / "ws").words(as_of=AS_OF).empty
