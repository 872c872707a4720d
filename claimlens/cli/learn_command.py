"""The command that trains the learned model."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claimlens.cli.options import (
    AsKnownOption,
    AsOfOption,
    DebugOption,
    FolderOption,
    FormatOption,
    OutputOption,
    ReplaceOption,
    WaitOption,
    busy,
    deliver,
    readable_errors,
)
from claimlens.cli.screen import say
from claimlens.start import open_workspace

__all__ = ["learn_command"]


def learn_command(
    forget: Annotated[
        bool,
        typer.Option("--forget", help="Take the learned model out of use instead."),
    ] = False,
    as_of: AsOfOption = None,
    as_known: AsKnownOption = None,
    wait: WaitOption = 0.0,
    form: FormatOption = "table",
    output: OutputOption = None,
    replace: ReplaceOption = False,
    workspace: FolderOption = Path(),
    debug: DebugOption = False,
) -> None:
    """Train a model on reviewed labels, and use it where it beats the terms.

    Example:
        claimlens learn
    """
    with readable_errors(debug):
        opened = open_workspace(workspace)
        if forget:
            had_one = opened.forget(wait=wait)
            say(
                "The learned model is out of use; the terms alone decide."
                if had_one
                else "There was no learned model."
            )
            return
        with busy("learning, and trying what was learned"):
            result = opened.learn(as_of=as_of, as_known=as_known, wait=wait)
        if form != "table":
            deliver(result, form, output, replace)
            return
        deliver(result.drop(columns=["used", "note"]), form, output, replace)
        for note in dict.fromkeys(result["note"]):
            say(note)
