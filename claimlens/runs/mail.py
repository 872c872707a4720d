"""The summary of a run: short, ready to be mailed, without personal text."""

from __future__ import annotations

import hashlib
import textwrap
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from pathlib import Path

from claimlens.marks import visible
from claimlens.settings.sections import MailSettings

__all__ = ["Summary", "mail_bytes"]

_WIDTH = 76


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What a run tells in short.

    Parameters
    ----------
    subject : str
        The month, and the gravest thing.
    about : tuple of str
        Lines below it: cut-off, version, settings.
    parts : tuple of (str, tuple of str)
        Headings with their sentences.
    """

    subject: str
    about: tuple[str, ...]
    parts: tuple[tuple[str, tuple[str, ...]], ...]

    def text(self) -> str:
        """Return it as plain text, lines of at most 76 characters."""
        lines = [*textwrap.wrap(_plain(self.subject), _WIDTH), *self.about]
        for heading, sentences in self.parts:
            lines += ["", heading]
            for sentence in sentences:
                lines += textwrap.wrap(
                    _plain(sentence),
                    _WIDTH,
                    initial_indent="- ",
                    subsequent_indent="  ",
                    break_long_words=False,
                    break_on_hyphens=False,
                )
        return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    """Return a sentence on one line, with plain spaces and nothing hidden."""
    return visible(" ".join(text.split()))


def mail_bytes(
    summary: Summary,
    settings: MailSettings,
    *,
    day: date | None,
    page: tuple[str, bytes] | None = None,
) -> bytes:
    """Return the summary as a message of RFC 5322.

    Parameters
    ----------
    summary : Summary
        What it says.
    settings : MailSettings
        Sender and recipients; without them the message has none.
    day : date or None
        The cut-off, which stands as its date, so that the same run gives the same
        bytes; None leaves the date to whoever sends it.
    page : tuple of (str, bytes), optional
        Name and contents of the report, to be attached.

    Returns
    -------
    bytes
        With line ends and encodings that a mail server takes.
    """
    text = summary.text()
    told = hashlib.sha256(text.encode("utf-8"))
    message = EmailMessage(policy=SMTP)
    message["Subject"] = _plain(summary.subject)
    if settings.sender:
        message["From"] = settings.sender
    if settings.to:
        message["To"] = ", ".join(settings.to)
    if day is not None:
        moment = datetime.combine(day, time(), tzinfo=UTC)
        message["Date"] = format_datetime(moment)
    message["Message-ID"] = f"<{told.hexdigest()[:32]}@claimlens.invalid>"
    message.set_content(text, cte="quoted-printable")
    if page is not None:
        name, contents = page
        message.add_attachment(
            contents, maintype="text", subtype="html", filename=Path(name).name
        )
        # the library would draw a boundary by chance
        message.set_boundary(f"=_{told.hexdigest()[:40]}")
    return message.as_bytes()
