"""What a symptom turned out to be: counted by hand on a small fleet."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from fleet_maker import Fleet, Row, workspace_of

from claimlens import diagnosis, handover
from claimlens.analysis.causes import CAUSE_COLUMNS
from claimlens.errors import InputError
from claimlens.start import open_workspace
from claimlens.workspace import Workspace

AS_OF = date(2024, 12, 31)
START = date(2023, 1, 1)


def fleet_of(
    told: list[tuple[str, str | None, str | None, int]], model: str = "Zellip S1"
) -> Fleet:
    """Return one unit a claim: narrative, labelled cause and mode, months of age."""
    units: list[Row] = []
    claims: list[Row] = []
    labels: list[Row] = []
    for number, (text, component, mode, months) in enumerate(told):
        serial = f"U{number:04d}"
        failed = START + timedelta(days=int(months * 30.4375) + 3)
        units.append(
            {
                "serial": serial,
                "model": model if number % 4 else "Brumelo T3",
                "model_year": 2023,
                "generation": "G2" if number % 2 else "G1",
                "in_service_date": START,
                "region": "DE",
            }
        )
        claims.append(
            {
                "claim_no": f"C{number:04d}",
                "serial": serial,
                "reported_on": failed,
                "failed_on": failed,
                "narrative": text,
                "cost_labour": 20 + number % 3,
                "currency": "EUR",
            }
        )
        if component is not None:
            labels.append(
                {
                    "claim_no": f"C{number:04d}",
                    "component": component,
                    "failure_mode": mode,
                    "reviewer": "R1",
                    "reviewed_on": failed,
                }
            )
    return Fleet(units, claims, labels=labels)


TOLD: list[tuple[str, str | None, str | None, int]] = [
    *[("The display is dead.", "wiring harness", "chafed/cut", 8)] * 16,
    *[("Display stays black, dead.", "display", "no power", 2)] * 6,
    *[("No noise, but the display is dead", "display", "water ingress", 8)] * 3,
    *[("The display is dead.", None, None, 8)] * 5,
    *[("Grinding noise from the motor", "motor", "noise/vibration", 8)] * 12,
    *[("Squeaking brake", "brake pad/rotor", "worn", 8)] * 30,
    *[("It smells of zibeth since Monday", "rack/accessories", "corrosion", 8)] * 2,
]


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    folder = tmp_path_factory.mktemp("causes") / "ws"
    return workspace_of(
        fleet_of(TOLD), folder, '[classify]\nlanguages = ["en", "de"]\n'
    )


def counts(
    workspace: Workspace, text: str, **more: object
) -> dict[tuple[str, str], int]:
    result = workspace.causes(text, as_of=AS_OF, **more)  # type: ignore[arg-type]
    assert tuple(result.columns) == CAUSE_COLUMNS
    found = result[result["claims"] > 0]
    pairs = zip(found["component"], found["failure_mode"], strict=True)
    return dict(zip(pairs, found["claims"].tolist(), strict=True))


def test_causes_are_those_of_established_claims_only(workspace: Workspace) -> None:
    found = counts(workspace, "display dead")
    assert found == {
        ("wiring harness", "chafed/cut"): 16,
        ("display", "no power"): 6,
        ("display", "water ingress"): 3,
    }
    result = workspace.causes("display dead", as_of=AS_OF)
    assert result["matched"].unique().tolist() == [25]
    assert "mostly wiring harness: 16 of 25" in result["note"][0]
    assert "5 more claims" in result["note"][0]


def test_a_question_in_another_language_finds_the_same(workspace: Workspace) -> None:
    assert counts(workspace, "Display tot") == counts(workspace, "display dead")


def test_what_is_denied_does_not_match(workspace: Workspace) -> None:
    found = counts(workspace, "noise")
    assert ("display", "water ingress") not in found
    assert found["motor", "noise/vibration"] == 12


def test_a_word_is_dropped_where_too_few_claims_have_all(workspace: Workspace) -> None:
    result = workspace.causes("display dead and motor noise", as_of=AS_OF)
    assert "too few claims have all words; left out: " in result["note"][0]


def test_words_that_no_claim_has_are_named(workspace: Workspace) -> None:
    result = workspace.causes("display dead, glimmerstone", as_of=AS_OF)
    assert "no claim has: glimmersto.." in result["note"][0]
    assert result["matched"][0] == 25


def test_a_word_that_the_terms_do_not_know_is_looked_for_as_it_is(
    workspace: Workspace,
) -> None:
    result = workspace.causes("zibeth", as_of=AS_OF)
    assert result["matched"][0] == 2
    assert result.iloc[0][["component", "claims"]].tolist() == ["rack/accessories", 2]
    assert result["note"][0].startswith("too few to say: 2 claims")


def test_kind_narrows_by_model_generation_and_age(workspace: Workspace) -> None:
    young = counts(workspace, "display dead", age=2)
    assert young == {("display", "no power"): 6}
    old = counts(workspace, "display dead", model="Zellip S1", generation="G2", age=8)
    by_hand = sum(1 for n in range(16) if n % 4 and n % 2)
    assert old["wiring harness", "chafed/cut"] == by_hand


def test_repairs_are_followed_and_checks_ordered(workspace: Workspace) -> None:
    result = workspace.causes("display dead", as_of=AS_OF)
    first = result.iloc[0]
    assert (first["repairs_followed"], first["repairs_held"]) == (16, 16)
    assert first["check_order"] == 1
    assert 20 <= first["check_cost"] <= 22
    assert first["currency"] == "EUR"


def test_results_hold_no_nan(workspace: Workspace) -> None:
    text = handover.to_json(handover.records(workspace.causes("dead", as_of=AS_OF)))
    assert "NaN" not in text
    assert "Infinity" not in text


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "no word"),
        ("the and of", "no word"),
        ("dead " * 25_000, "125,000 characters"),
    ],
)
def test_texts_without_a_symptom_are_refused(
    workspace: Workspace, text: str, message: str
) -> None:
    with pytest.raises(InputError, match=message):
        workspace.causes(text, as_of=AS_OF)


def test_an_impossible_age_is_refused(workspace: Workspace) -> None:
    with pytest.raises(InputError, match="between 0 and 600"):
        workspace.causes("display dead", age=-1.0, as_of=AS_OF)


@pytest.fixture
def own(tmp_path: Path) -> Workspace:
    """Return a workspace whose usual cut-off lies after all its claims."""
    fleet = fleet_of(TOLD)
    fleet.claims[-1]["reported_on"] = AS_OF
    return workspace_of(fleet, tmp_path / "ws", '[classify]\nlanguages = ["en"]\n')


def kept_file(workspace: Workspace) -> Path:
    return workspace.folder / "cache" / "cause_claims.duckdb"


def refuse_to_count(*_: object) -> None:
    raise AssertionError("counted anew")


def test_a_second_question_is_answered_from_what_was_kept(
    own: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    questions: list[dict[str, object]] = [
        {"symptom": "display dead"},
        {"symptom": "zibeth"},
        {"symptom": "noise", "model": "Zellip S1", "generation": "G2", "age": 8},
    ]
    answers = []
    for question in questions:
        kept_file(own).unlink(missing_ok=True)
        answers.append(own.causes(**question))  # type: ignore[arg-type]
    monkeypatch.setattr(diagnosis, "put_cause_claims", refuse_to_count)
    for question, answer in zip(questions, answers, strict=True):
        again = own.causes(**question, as_of=AS_OF)  # type: ignore[arg-type]
        pd.testing.assert_frame_equal(again, answer)
    own.unit("U0001", symptom="display dead")
    # other claims are in sight, or known, than those that were kept
    for other in ({"region": "DE"}, {"as_of": "2023-12-31"}, {"as_known": AS_OF}):
        with pytest.raises(AssertionError, match="counted anew"):
            own.causes("display dead", **other)  # type: ignore[arg-type]


def as_other_settings(workspace: Workspace) -> None:
    settings = workspace.folder / "claimlens.toml"
    settings.write_text('[classify]\nlanguages = ["en"]\n[coverage]\nmonths = 3\n')


def as_newer_facts(workspace: Workspace) -> None:
    late = workspace.folder / "inbox" / "late.csv"
    late.write_text("claim_no,reported_on,status\nC9999,2024-12-30,open\n")
    workspace.ingest(late)


@pytest.mark.parametrize("change", [as_other_settings, as_newer_facts])
def test_what_was_kept_of_another_state_is_not_used(
    own: Workspace, monkeypatch: pytest.MonkeyPatch, change: Callable[[Workspace], None]
) -> None:
    own.causes("display dead")
    change(own)
    monkeypatch.setattr(diagnosis, "put_cause_claims", refuse_to_count)
    with pytest.raises(AssertionError, match="counted anew"):
        open_workspace(own.folder).causes("display dead")


def test_a_kept_file_that_is_damaged_or_cannot_be_written_does_no_harm(
    own: Workspace,
) -> None:
    answer = own.causes("display dead")
    kept_file(own).write_bytes(b"no database" * 2_000)
    pd.testing.assert_frame_equal(own.causes("display dead"), answer)
    kept_file(own).unlink()
    kept_file(own).parent.rmdir()
    kept_file(own).parent.write_text("in the way", encoding="utf-8")
    pd.testing.assert_frame_equal(own.causes("display dead"), answer)
    assert sorted(path.name for path in own.folder.glob("cache*")) == ["cache"]
