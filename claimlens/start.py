"""Open a workspace folder, or make a new one."""

from __future__ import annotations

from pathlib import Path

from claimlens.errors import InputError, write_error
from claimlens.settings import SETTINGS_FILE, read_settings, starter_text
from claimlens.upkeep.restoring import finish_restore
from claimlens.workspace import Workspace

__all__ = ["create", "make_folders", "open_workspace"]


def open_workspace(folder: str | Path) -> Workspace:
    """Open a workspace folder.

    Parameters
    ----------
    folder : str or Path
        Holds ``claimlens.toml``.

    Returns
    -------
    Workspace
        Its settings read and checked.

    Raises
    ------
    SettingsError
        If there are no settings, or they are not valid.
    """
    path = Path(folder)
    finish_restore(path)
    return Workspace(path, read_settings(path / SETTINGS_FILE))


def create(folder: str | Path) -> Workspace:
    """Make a new workspace.

    Parameters
    ----------
    folder : str or Path
        Made if it is not there.

    Returns
    -------
    Workspace
        With commented settings, an inbox and an out tray.

    Raises
    ------
    InputError
        If the folder holds a workspace already, or cannot be made.
    """
    path = make_folders(folder)
    (path / SETTINGS_FILE).write_text(
        starter_text(path.resolve().name), encoding="utf-8"
    )
    return open_workspace(path)


def make_folders(folder: str | Path) -> Path:
    """Make the folders of a workspace that is not there yet.

    Parameters
    ----------
    folder : str or Path
        Made if it is not there.

    Returns
    -------
    Path
        The folder, with ``inbox`` and ``out`` in it and no settings.

    Raises
    ------
    InputError
        If the folder holds a workspace already, or cannot be made.
    """
    path = Path(folder)
    if (path / SETTINGS_FILE).exists():
        raise InputError(
            "This folder is a workspace already.",
            source=str(path / SETTINGS_FILE),
            remedy="choose another folder",
        )
    try:
        for part in (path, path / "inbox", path / "out"):
            # claims tell of people: what is made here is its owner's alone
            part.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise write_error(
            "The workspace cannot be made",
            error,
            source=str(path),
            remedy="choose a folder that can be written",
        ) from error
    return path
