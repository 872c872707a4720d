"""First failures and repeats: claims that lie close together are one event."""

from __future__ import annotations

from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["put_events"]


def put_events(
    session: Session,
    settings: Settings,
    *,
    by_component: bool = True,
    by_failure_mode: bool = False,
) -> None:
    """Make ``int_events``.

    Parameters
    ----------
    session : Session
        With ``int_claims``.
    settings : Settings
        How close claims of one event lie.
    by_component : bool, default True
        Whether a unit has a first failure of each component, or of any.
    by_failure_mode : bool, default False
        Whether failure modes are told apart as well.
    """
    session.run(
        "intermediate/int_events",
        {
            "by_component": by_component,
            "by_failure_mode": by_failure_mode,
            "same_event_days": settings.counting.same_event_days,
        },
    )
