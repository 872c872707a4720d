"""The checker of terms: conflicts, phrases never reached, terms that misfire."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from claimlens.classify.taxonomy import Taxonomy, load_taxonomy
from claimlens.classify.terms import Terms, load_terms
from claimlens.classify.terms_check import PROBLEM_COLUMNS, check_terms
from claimlens.stats.intervals import wilson

HEADER = "group,component,failure_mode,weight,terms\n"
SOUND = (
    "skip,,,1,the|a|is\n"
    "part,motor,,1,motor|drive unit\n"
    "part,display;controller,,1,electronics\n"
    "mode,,broken/cracked,1,cracked|broken\n"
    "mode,tyre/tube,worn,1,bald\n"
    "fault,,,1,broken\n"
    "danger,,,1,smoke\n"
    "harmless,,,1,smoke grey\n"
    "ignore,,,1,motor home\n"
)


@pytest.fixture(scope="module")
def taxonomy() -> Taxonomy:
    return load_taxonomy()


class Bench:
    """Terms of one's own in place of the shipped ones, and their check."""

    def __init__(self, path: Path, taxonomy: Taxonomy) -> None:
        self.path = path
        self.taxonomy = taxonomy

    def terms(self, rows: str) -> Terms:
        self.path.write_text(HEADER + rows, encoding="utf-8")
        return load_terms(self.taxonomy, self.path, languages=["en"], replace=["en"])

    def check(self, rows: str, claims: pd.DataFrame | None = None) -> pd.DataFrame:
        terms = self.terms(rows)
        found = check_terms(terms, self.path, replace=["en"], claims=claims)
        assert tuple(found.columns) == PROBLEM_COLUMNS
        assert set(found["file"]) <= {"own.csv"}
        assert (found["to_do"].str.len() > 10).all()
        return found

    def told(self, rows: str) -> list[tuple[str, int, str]]:
        """Return problem, line and phrase of each finding."""
        found = self.check(rows)
        columns = (found["problem"], found["line"], found["phrase"])
        return list(zip(*columns, strict=True))

    def why(self, rows: str) -> str:
        """Return the reason of the one finding."""
        (why,) = self.check(rows)["why"]
        return str(why)


@pytest.fixture
def bench(tmp_path: Path, taxonomy: Taxonomy) -> Bench:
    return Bench(tmp_path / "own.csv", taxonomy)


def test_sound_terms_have_no_finding(bench: Bench) -> None:
    """A mode that is a fault as well, and one row for two parts, are meant."""
    assert bench.told(SOUND) == []


def test_one_phrase_in_two_groups_is_a_conflict(bench: Bench) -> None:
    rows = SOUND + "past,,,1,drive unit\n"
    assert bench.told(rows) == [("conflict", 11, "drive unit")]
    assert bench.why(rows) == "read as part in own.csv line 3"


def test_one_phrase_for_two_parts_is_a_conflict_unless_one_row_means_it(
    bench: Bench,
) -> None:
    rows = SOUND + "part,throttle,,1,drive unit\n"
    assert bench.told(rows) == [("conflict", 11, "drive unit")]
    assert bench.why(rows) == "stands for motor in own.csv line 3"
    meant = SOUND + "part,display,,1,electronics\n"
    assert bench.told(meant) == []


def test_readings_of_one_word_by_component_are_no_conflict(bench: Bench) -> None:
    assert bench.told(SOUND + "mode,brake pad/rotor,worn,1,bald\n") == []


def test_an_inflection_that_another_group_takes_is_never_reached(bench: Bench) -> None:
    rows = SOUND + "work,,broken/cracked,1,cracks\n"
    assert bench.told(rows) == [("unreachable", 11, "cracks")]
    assert bench.why(rows) == "read as mode as 'cracked' in own.csv line 5"


def test_a_row_that_only_repeats_a_stronger_one_loses_nothing(bench: Bench) -> None:
    rows = SOUND + "sign,tyre/tube,worn,1,threadbare\n"
    assert bench.told(rows + "mode,tyre/tube,worn,1,threadbare\n") == []
    assert bench.told(rows + "mode,tyre/tube,leaking,1,threadbare\n") == [
        ("conflict", 12, "threadbare")
    ]


def test_a_phrase_that_is_ignored_is_said_to_be_swallowed(bench: Bench) -> None:
    rows = SOUND + "part,rack/accessories,,1,motor homes\n"
    assert bench.told(rows) == [("unreachable", 11, "motor homes")]
    assert bench.why(rows).startswith("swallowed by ignore as 'motor home'")


def test_a_phrase_of_skipped_words_is_never_reached(bench: Bench) -> None:
    rows = SOUND + "good,,,1,is the a\n"
    assert bench.told(rows) == [("unreachable", 11, "is the a")]
    assert bench.why(rows) == "every word of it is passed over"


def test_a_phrase_without_a_word_is_never_reached(bench: Bench) -> None:
    rows = SOUND + "mode,,worn,1,%\n"
    assert bench.told(rows) == [("unreachable", 11, "%")]
    assert bench.why(rows) == "it holds no letter and no digit"


def test_a_phrase_to_skip_must_be_one_word(bench: Bench) -> None:
    assert bench.told(SOUND + "skip,,,1,of course\n") == [
        ("unreachable", 11, "of course")
    ]


def test_words_that_a_text_is_not_cut_into_are_told(bench: Bench) -> None:
    """In a text the driver's case is driver and case."""
    rows = SOUND + "part,seat/seatpost,,1,driver's case\n"
    assert bench.told(rows) == [("unreachable", 11, "driver's case")]
    assert "cut into other words" in bench.why(rows)


def test_numbers_are_reached_by_any_number(bench: Bench) -> None:
    assert bench.told(SOUND + "mode,,worn,1,after # days|48 volts\n") == []


@pytest.mark.parametrize(
    ("row", "missing"),
    [
        ("part,tow bar,,1,hitch|coupler\n", "tow bar"),
        ("mode,,exploded,1,hitch|coupler\n", "exploded"),
        ("sign,motor,exploded,1,hitch|coupler\n", "exploded"),
    ],
)
def test_a_row_that_leads_out_of_the_taxonomy_is_told_once(
    bench: Bench, row: str, missing: str
) -> None:
    assert bench.told(SOUND + row) == [("unreachable", 11, "hitch")]
    why = bench.why(SOUND + row)
    assert why == f"the taxonomy has no {missing} (and 1 more of its row)"


def claims(*rows: tuple[str, str]) -> pd.DataFrame:
    """Make claims of a component and a note; other texts are empty."""
    return pd.DataFrame(
        [
            {
                "component": component,
                "other_components": "",
                "narrative": None,
                "technician_note": note,
                "resolution": None,
            }
            for component, note in rows
        ]
    )


def test_a_term_that_mostly_speaks_for_another_part_misfires(bench: Bench) -> None:
    found = bench.check(
        SOUND,
        claims(
            *[("display", "the motor is broken")] * 7,
            *[("throttle", "the motor is broken")] * 2,
            ("motor", "motor cracked"),
            *[("tyre/tube", "electronics broken")] * 2,
        ),
    )
    (row,) = found.to_dict("records")
    assert (row["problem"], row["line"], row["phrase"]) == ("misfiring", 3, "motor")
    assert (row["fired"], row["right"]) == (10, 1)
    assert (row["lower"], row["upper"]) == wilson(1, 10)
    assert "first of all display" in row["why"]


def test_a_term_is_not_judged_by_few_claims_or_where_it_is_right(bench: Bench) -> None:
    few = claims(*[("display", "the motor is broken")] * 3)
    assert bench.check(SOUND, few).empty
    half = claims(
        *[("display", "the motor is broken")] * 20, *[("motor", "broken motor")] * 20
    )
    assert bench.check(SOUND, half).empty


def test_a_second_failed_part_is_right_as_well(bench: Bench) -> None:
    both = claims(*[("display", "the motor is broken")] * 9)
    assert bench.check(SOUND, both.assign(other_components="frame; motor")).empty


def test_claims_without_a_fault_try_no_term(bench: Bench) -> None:
    sound = claims(*[("none/no fault found", "the motor is broken")] * 9)
    assert bench.check(SOUND, sound).empty


def test_the_findings_of_the_shipped_terms_name_their_lines() -> None:
    taxonomy = load_taxonomy()
    found = check_terms(load_terms(taxonomy, languages=["en"]))
    assert set(found["problem"]) <= {"conflict", "unreachable"}
    assert set(found["file"]) <= {"terms_en.csv"}
    assert (found["line"] > 1).all()


def test_a_file_of_a_workspace_comes_first(bench: Bench, taxonomy: Taxonomy) -> None:
    bench.path.write_text(HEADER + "ignore,,,1,motor\n", encoding="utf-8")
    terms = load_terms(taxonomy, bench.path, languages=["en"])
    found = check_terms(terms, bench.path)
    lost = found[found["phrase"] == "motor"]
    assert lost["file"].tolist() == ["terms_en.csv"]
    assert lost["why"].iloc[0] == "swallowed by ignore in own.csv line 2"
