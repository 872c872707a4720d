"""The inputs of the month are checked and settled on arrival."""

from __future__ import annotations

from collections.abc import Callable

import fixture_monthly
import fixture_rising
import numpy as np
import pandas as pd
import pytest

from claimlens.errors import ReportError
from claimlens.monthly_inputs import COLUMNS, RISING_COLUMNS, MonthlyInputs


def with_frames(change: Callable[[pd.DataFrame], pd.DataFrame]) -> MonthlyInputs:
    """Build the month from frames changed alike."""
    inputs = fixture_monthly.build()
    return fixture_monthly.build(
        **{name: change(getattr(inputs, name)) for name in COLUMNS}
    )


@pytest.mark.parametrize(
    "change",
    [
        lambda frame: frame.astype(object).where(frame.notna(), None),
        lambda frame: frame.convert_dtypes(),
    ],
    ids=["None in object columns", "NA in nullable columns"],
)
def test_nulls_of_any_kind_settle_to_the_same_frames(
    change: Callable[[pd.DataFrame], pd.DataFrame],
) -> None:
    expected, settled = fixture_monthly.build(), with_frames(change)
    for name, columns in COLUMNS.items():
        left = getattr(expected, name)[list(columns)]
        right = getattr(settled, name)[list(columns)]
        # columns that no type is declared for keep the sender's
        loose = [c for c in columns if c in ("as_of", "batch", "currency", "pattern")]
        pd.testing.assert_frame_equal(
            left.drop(columns=loose), right.drop(columns=loose)
        )


def test_the_order_of_rows_is_settled() -> None:
    expected = fixture_monthly.build()
    shuffled = with_frames(lambda frame: frame.sample(frac=1, random_state=20240607))
    for name in COLUMNS:
        if name not in ("classes", "account"):  # shown in the order given
            pd.testing.assert_frame_equal(
                getattr(expected, name), getattr(shuffled, name)
            )


def test_an_infinite_limit_becomes_an_open_one() -> None:
    life = fixture_monthly.build().life.assign(b10_upper=np.inf)
    assert fixture_monthly.build(life=life).life["b10_upper"].isna().all()


def test_the_frames_of_the_caller_stay_untouched() -> None:
    mine = fixture_monthly.build().life.sample(frac=1, random_state=1)
    before = mine.copy()
    fixture_monthly.build(life=mine)
    pd.testing.assert_frame_equal(mine, before)


@pytest.mark.parametrize("name", sorted(COLUMNS))
def test_a_missing_column_is_named(name: str) -> None:
    frame = getattr(fixture_monthly.build(), name)
    column = COLUMNS[name][0]
    with pytest.raises(ReportError, match=f"{name} lacks {column}") as caught:
        fixture_monthly.build(**{name: frame.drop(columns=column)})
    assert caught.value.column == column
    assert caught.value.remedy


def test_a_count_that_is_no_number_is_named() -> None:
    ranking = fixture_monthly.build().ranking.astype({"claims": object})
    ranking.loc[0, "claims"] = "many"
    with pytest.raises(ReportError, match="claims of ranking"):
        fixture_monthly.build(ranking=ranking)


def test_classes_that_do_not_add_up_are_refused() -> None:
    inputs = fixture_monthly.build()
    with pytest.raises(ReportError, match="were read"):
        fixture_monthly.build(claims_read=inputs.claims_read + 1)


@pytest.mark.parametrize("name", sorted(RISING_COLUMNS))
def test_frames_of_what_rises_settle_and_name_a_missing_column(name: str) -> None:
    expected = getattr(fixture_rising.build(), name)
    as_objects = expected.astype(object).where(expected.notna(), None)
    settled = getattr(fixture_rising.build(**{name: as_objects}), name)
    pd.testing.assert_frame_equal(
        expected.drop(columns="currency", errors="ignore"),
        settled.drop(columns="currency", errors="ignore"),
    )
    column = RISING_COLUMNS[name][0]
    with pytest.raises(ReportError, match=f"{name} lacks {column}"):
        fixture_rising.build(**{name: expected.drop(columns=column)})


def test_the_list_of_signals_keeps_its_order() -> None:
    listed = fixture_rising.build().signals
    turned = fixture_rising.build(signals=listed.iloc[::-1]).signals
    assert list(turned["component"]) == list(listed["component"])[::-1]
