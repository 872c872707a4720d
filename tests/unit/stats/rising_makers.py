"""Small fleets in counts, made by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claimlens.stats.rising import FailureTable, UnitTable, Views

AT_ONCE = (1.0,)


def failures(rows: Sequence[Sequence[float]]) -> FailureTable:
    """Rows: component, model, build, age, failed, reported, n."""
    table = np.array(rows, dtype=float).reshape(-1, 7)
    whole = table[:, :6].astype(np.int64).T
    return FailureTable(
        component=whole[0],
        model=whole[1],
        build_month=whole[2],
        age_month=whole[3],
        failed_month=whole[4],
        reported_month=whole[5],
        n=table[:, 6],
    )


def units(rows: Sequence[Sequence[float]]) -> UnitTable:
    """Rows: model, build, service, months watched, n."""
    table = np.array(rows, dtype=float).reshape(-1, 5)
    whole = table[:, :4].astype(np.int64).T
    return UnitTable(
        model=whole[0],
        build_month=whole[1],
        service_month=whole[2],
        months_watched=whole[3],
        n=table[:, 4],
    )


def views(
    failed: Sequence[Sequence[float]],
    watched: Sequence[Sequence[float]],
    reported: Sequence[float] = AT_ONCE,
    *,
    components: int = 1,
    models: int = 1,
) -> Views:
    return Views(
        failures(failed),
        units(watched),
        reported,
        n_components=components,
        n_models=models,
    )


def steady(
    *,
    builds: int = 48,
    number: float = 200.0,
    rate: Sequence[float] = (0.002, 0.004),
    models: int = 2,
    reported: Sequence[float] = AT_ONCE,
    times: dict[tuple[int, int, int], float] | None = None,
    empty: Sequence[int] = (),
    wait: int = 0,
    seed: int = 20240607,
) -> tuple[list[list[float]], list[list[float]]]:
    """Draw rows for `views`: a constant hazard, at times multiplied.

    ``times`` is by component, model (-1 for all) and build month. Units come into
    service ``wait`` months after build, those of odd build months at once.
    """
    rng = np.random.default_rng(seed)
    failed: list[list[float]] = []
    watched: list[list[float]] = []
    share = np.diff(np.append(0.0, reported))
    for model in range(models):
        for build in range(builds):
            if build in empty:
                continue
            service = build + (wait if build % 2 == 0 else 0)
            watched.append([model, build, service, builds, number])
            for component, one in enumerate(rate):
                factor = 1.0
                for (c, m, b), value in (times or {}).items():
                    if c == component and m in (-1, model) and b == build:
                        factor *= value
                for age in range(max(builds - service, 0)):
                    for half in (0, 1):
                        at = service + age + half
                        drawn = rng.poisson(0.5 * number * one * factor * share)
                        failed += [
                            [component, model, build, age, at, at + lag, n]
                            for lag, n in enumerate(drawn)
                            if n and at + lag < builds
                        ]
    return failed, watched
