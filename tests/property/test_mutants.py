"""Damaged exports of every format end in a true account or one message.

``tests/studies/study_mutants.py`` does the same with many more.
"""

from __future__ import annotations

import csv
import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mutant_counts import count
from mutant_maker import MUTATIONS, Mutant, mutant
from mutant_seeds import HEADER, SEEDS, Seed
from mutant_trial import Desk, Verdict

from claimlens.ingest.records import open_records
from claimlens.ingest.source import SourceBlock

MUTANTS = 500
GROUPS = 10

CELL = st.text(
    st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\ufeff"),
    max_size=12,
)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return Desk(tmp_path_factory.mktemp("mutants"))


@pytest.mark.slow
@pytest.mark.parametrize("group", range(GROUPS))
def test_a_damaged_export_is_accounted_for_or_refused(desk: Desk, group: int) -> None:
    faults: dict[int, Verdict] = {}
    for number in range(group, MUTANTS, GROUPS):
        verdict = desk.trial(mutant(number))
        if verdict.outcome not in ("loaded", "refused"):
            faults[number] = verdict
    assert not faults


@pytest.mark.parametrize(
    "number",
    [
        *(3507, 4784, 5504),  # a long currency, a cell in row 1048577, an odd encoding
        *(6103, 6780, 9820, 14176, 17020),  # end marks, notes, and rows torn in two
    ],
)
def test_what_the_study_found_stays_mended(desk: Desk, number: int) -> None:
    verdict = desk.trial(mutant(number))
    assert verdict.outcome in ("loaded", "refused"), verdict


def test_a_torn_row_is_rejected_and_not_taken_for_a_note(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    rows = "".join(
        f"WC-{n:04d},2024-03-01,SN{n},Heron,noise,open,9.50,EUR\n" for n in range(9)
    )
    torn = "WC-0 wheel rubs,,29.50\n"
    note = "WC-0003 was withdrawn\n"
    path.write_text(f"{','.join(HEADER)}\n{rows}{torn}{note}")
    records = open_records(path, source=SourceBlock(name="x"))
    list(records.chunks())
    assert [(one.row, one.value) for one in records.rejected] == [(11, torn.strip())]
    assert records.skipped_lines == 1


@pytest.mark.parametrize("seed", SEEDS, ids=lambda seed: seed.name)
def test_a_sound_export_is_read_whole(desk: Desk, seed: Seed) -> None:
    """Else the damaged ones would prove nothing."""
    sound = Mutant(0, seed, "none", seed.contents)
    told = count(sound)
    assert told is not None
    assert told.records == 24
    assert desk.trial(sound) == Verdict("loaded", is_counted=True)


def test_mutants_are_the_same_each_time_and_of_every_way() -> None:
    assert mutant(77).contents == mutant(77).contents
    seen = {(one.seed.form, one.way) for one in map(mutant, range(MUTANTS))}
    assert seen == {(form, way) for form, ways in MUTATIONS.items() for way in ways}


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(*[CELL] * (len(HEADER) - 2)), min_size=3, max_size=12),
    st.sampled_from((",", ";", "\t", "|")),
    st.sampled_from((csv.QUOTE_MINIMAL, csv.QUOTE_ALL)),
    st.sampled_from(("\n", "\r\n")),
)
def test_sound_text_is_read_as_the_csv_module_reads_it(
    drawn: list[tuple[str, ...]], delimiter: str, quoting: int, end: str
) -> None:
    """Any letters in the cells but those of the key and the day."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end)
    writer.writerow(HEADER)
    for number, cells in enumerate(drawn):
        writer.writerow([f"WC-{number:04d}", "2024-03-01", *cells])
    text = out.getvalue()
    told = [
        [cell.strip() or None for cell in cells]
        for cells in list(csv.reader(io.StringIO(text), delimiter=delimiter))[1:]
    ]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "claims.csv"
        path.write_bytes(text.encode())
        records = open_records(path, source=SourceBlock(name="x", delimiter=delimiter))
        rows = [
            list(cells)
            for chunk in records.chunks()
            for cells in zip(*chunk.values.values(), strict=True)
        ]
    assert records.headers == HEADER
    assert rows == told
    assert records.rows_read == len(drawn)
