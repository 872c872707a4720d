"""What a run tells in short, put together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from claimlens.analysis.alarms import ARRIVAL, RISING, Alarm
from claimlens.analysis.cautions import REMINDER
from claimlens.monthly_inputs import Arrivals
from claimlens.runs.mail import Summary

__all__ = ["summary_of_failure", "summary_of_run"]

_MOST = 10


def summary_of_run(
    *,
    title: str,
    about: Sequence[str],
    arrivals: Arrivals,
    alarms: Sequence[Alarm],
    decisions: Sequence[str],
    files: Sequence[str],
) -> Summary:
    """Return the summary of a run that came to its end.

    Parameters
    ----------
    title : str
        Workspace and month.
    about : sequence of str
        Cut-off, version and the like.
    arrivals : Arrivals
        What arrived.
    alarms : sequence of Alarm
        New since the last run.
    decisions : sequence of str
        What needs a decision, as the page says it.
    files : sequence of str
        Where the reports are.

    Returns
    -------
    Summary
        Claims by their number only; nothing that an owner wrote.
    """
    parts = [
        ("What arrived", _arrived(arrivals)),
        ("Alarms that no run has told before", _alarms(alarms)),
        ("What needs a decision", tuple(decisions) or ("Nothing.",)),
        ("Files", tuple(files)),
    ]
    return Summary(
        subject=f"{title}: {_gravest(arrivals, alarms, decisions)}",
        about=tuple(about),
        parts=tuple(parts),
    )


def summary_of_failure(
    *,
    workspace: str,
    about: Sequence[str],
    reason: str,
    arrivals: Arrivals | None,
    alarms: Sequence[Alarm],
) -> Summary:
    """Return the summary of a run that failed, so that no old one is sent for it.

    Parameters
    ----------
    workspace : str
        Name of the workspace.
    about : sequence of str
        Version and the like.
    reason : str
        Why, without any word from the data.
    arrivals : Arrivals or None
        What arrived, where it was judged before.
    alarms : sequence of Alarm
        New since the last run, where they were found before.

    Returns
    -------
    Summary
        With no path of a report.
    """
    told = _arrived(arrivals) if arrivals is not None else ("It was not looked at.",)
    return Summary(
        subject=f"Warranty claims, {workspace}: the run FAILED, no report was written",
        about=tuple(about),
        parts=(
            (
                "Why",
                (
                    f"{reason}. The full message is on the console of the run; "
                    "claimlens run --debug shows more.",
                ),
            ),
            ("What arrived", told),
            ("Alarms that no run has told before", _alarms(alarms)),
        ),
    )


def _arrived(arrivals: Arrivals) -> tuple[str, ...]:
    told = tuple(f"{f.place}: {f.short}." for f in arrivals.findings)
    return told or ("Nothing is amiss.",)


def _alarms(alarms: Sequence[Alarm]) -> tuple[str, ...]:
    lines = []
    dangers = [a for a in alarms if a.kind not in (RISING, ARRIVAL)]
    for alarm in dangers[:_MOST]:
        lines.append(
            f"Dangerous claim {alarm.subject}, reported {alarm.raised_on}, "
            f"{alarm.component}."
        )
    if len(dangers) > _MOST:
        lines.append(
            f"And {len(dangers) - _MOST:,} more dangerous claims; claimlens classify "
            "lists them first."
        )
    lines += [f"Rising: {a.subject}." for a in alarms if a.kind == RISING]
    if dangers:
        lines.append(REMINDER)
    return tuple(lines) or ("None.",)


def _gravest(
    arrivals: Arrivals, alarms: Sequence[Alarm], decisions: Sequence[str]
) -> str:
    """Name what must be looked at first."""
    kinds = Counter(alarm.kind for alarm in alarms)
    dangers = sum(n for kind, n in kinds.items() if kind not in (RISING, ARRIVAL))
    told = []
    if dangers:
        told.append(f"{dangers:,} dangerous claim{'s' * (dangers > 1)} not told before")
    if kinds[RISING]:
        told.append(f"{kinds[RISING]:,} new rising fault{'s' * (kinds[RISING] > 1)}")
    grave = len(arrivals.grave)
    if grave:
        told.append(f"{grave:,} thing{'s' if grave > 1 else ''} amiss with the files")
    if not told:
        number = len(decisions)
        told.append(
            f"{number:,} decision{'s' if number > 1 else ''} to take"
            if number
            else "nothing to decide"
        )
    return ", ".join(told)
