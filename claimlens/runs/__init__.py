"""What an unattended run needs beside its results: lock, log, out tray, mail."""

from claimlens.runs.lock import run_lock
from claimlens.runs.log import RunLog, safe_reason
from claimlens.runs.mail import Summary, mail_bytes
from claimlens.runs.out_tray import remember, remove_drafts, remove_older
from claimlens.runs.summary import summary_of_failure, summary_of_run

__all__ = [
    "RunLog",
    "Summary",
    "mail_bytes",
    "remember",
    "remove_drafts",
    "remove_older",
    "run_lock",
    "safe_reason",
    "summary_of_failure",
    "summary_of_run",
]
