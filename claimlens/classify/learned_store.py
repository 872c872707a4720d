"""Keep the learned model as plain files: a JSON header and arrays of numbers.

No pickle: a pickle runs code when it is read, and a workspace may come by mail.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import zipfile
from collections.abc import Mapping
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claimlens.classify.learned import Learned, Origin
from claimlens.classify.learned_features import Vocabulary
from claimlens.classify.learned_head import Calibration, Head
from claimlens.classify.learned_trial import Outcome, Trial
from claimlens.errors import SourceError, write_error
from claimlens.handover import write_bytes, write_text

__all__ = ["FOLDER", "forget", "load", "save", "sealed"]

FOLDER = "model"
_HEADER = "header.json"
_FORMAT = "claimlens learned model"
_VERSION = 1
_BLOCKS = ("grams", "words", "facts")


def sealed(learned: Learned) -> tuple[Learned, str, bytes]:
    """Return the model with its digest, and the two files that hold it.

    Parameters
    ----------
    learned : Learned
        As trained.

    Returns
    -------
    learned : Learned
        With its digest.
    header : str
        JSON.
    arrays : bytes
        A ``.npz`` archive; equal arrays give equal bytes.
    """
    arrays = _packed(_arrays(learned))
    sha = hashlib.sha256(arrays).hexdigest()
    header = {
        "format": _FORMAT,
        "version": _VERSION,
        "origin": asdict(learned.origin),
        "trials": {what: asdict(t) for what, t in learned.trials.items()},
        "heads": {
            what: {
                "classes": head.classes,
                "calibration": asdict(head.calibration),
                "threshold": head.threshold,
                "least_lead": head.least_lead,
            }
            for what, head in learned.heads.items()
        },
        "arrays": {"file": _file_of(sha), "sha256": sha},
    }
    text = json.dumps(_plain(header), ensure_ascii=False, indent=1, sort_keys=True)
    text += "\n"
    digest = hashlib.sha256(text.encode()).hexdigest()
    return replace(learned, digest=digest), text, arrays


def _file_of(sha: str) -> str:
    return f"arrays-{sha[:12]}.npz"


def _plain(value: object) -> object:
    """Return a value as JSON can hold it: what is not a number is null."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value


def _arrays(learned: Learned) -> dict[str, NDArray[Any]]:
    names = learned.vocabulary
    arrays: dict[str, NDArray[Any]] = {"rarity": names.rarity.astype("<f8")}
    for block in _BLOCKS:
        text = "\n".join(getattr(names, block)).encode("utf-8", "surrogatepass")
        arrays[block] = np.frombuffer(text, dtype=np.uint8)
    for place, head in enumerate(learned.heads.values()):
        arrays[f"weights_{place}"] = head.weights.astype("<f4")
        arrays[f"bias_{place}"] = head.bias.astype("<f4")
    return arrays


def _packed(arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """Return an archive without the time of day in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name in sorted(arrays):
            held = io.BytesIO()
            np.save(held, arrays[name], allow_pickle=False)
            entry = zipfile.ZipInfo(f"{name}.npy", (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, held.getvalue())
    return out.getvalue()


def save(learned: Learned, folder: Path) -> Learned:
    """Write the model into a workspace, in place of an earlier one.

    Parameters
    ----------
    learned : Learned
        As trained.
    folder : Path
        The workspace.

    Returns
    -------
    Learned
        With its digest.

    Raises
    ------
    InputError
        If the files cannot be written; the earlier model then stays whole.
    """
    made, header, arrays = sealed(learned)
    place = folder / FOLDER
    try:
        place.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        raise write_error(
            "The folder of the model cannot be made",
            error,
            source=str(place),
            remedy="make the workspace writable, then learn again",
        ) from error
    # the header comes last: it names its arrays, so that a kill leaves one of the
    # two models whole
    own = json.loads(header)["arrays"]["file"]
    write_bytes(arrays, place / own, overwrite=True)
    write_text(header, place / _HEADER, overwrite=True)
    for old in place.glob("arrays-*.npz"):
        if old.name != own:
            old.unlink(missing_ok=True)
    return made


def forget(folder: Path) -> bool:
    """Take the model out of a workspace; tell whether there was one.

    Parameters
    ----------
    folder : Path
        The workspace.
    """
    place = folder / FOLDER
    header = place / _HEADER
    had = header.exists()
    # the header goes first: without it the rest is nothing
    header.unlink(missing_ok=True)
    for old in place.glob("arrays-*.npz"):
        old.unlink(missing_ok=True)
    return had


def load(folder: Path) -> Learned | None:
    """Read the model of a workspace.

    Parameters
    ----------
    folder : Path
        The workspace.

    Returns
    -------
    Learned or None
        None where none was ever learned.

    Raises
    ------
    SourceError
        If a file is damaged, or was not written by this version of ``learn``.
    """
    path = folder / FOLDER / _HEADER
    if not path.exists():
        return None
    text = _read(path).decode("utf-8", "replace")
    header = _header(text, path)
    arrays_path = path.with_name(header["arrays"]["file"])
    blob = _read(arrays_path)
    if hashlib.sha256(blob).hexdigest() != header["arrays"]["sha256"]:
        raise _damaged("its numbers are not those it was written with", arrays_path)
    digest = hashlib.sha256(text.encode()).hexdigest()
    try:
        return _rebuilt(header, _unpacked(blob), digest)
    except (
        KeyError,
        TypeError,
        ValueError,
        AttributeError,
        zipfile.BadZipFile,
    ) as error:
        raise _damaged(f"a part of it does not fit the rest ({error})", path) from error


def _damaged(why: str, path: Path) -> SourceError:
    return SourceError(
        f"The learned model cannot be used: {why}.",
        source=str(path),
        remedy="learn again (claimlens learn), or take the model out of use "
        "(claimlens learn --forget)",
    )


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise _damaged(error.strerror or str(error), path) from error


def _header(text: str, path: Path) -> dict[str, Any]:
    try:
        header = json.loads(text)
    except ValueError as error:
        raise _damaged("its header is not JSON", path) from error
    if not isinstance(header, dict) or header.get("format") != _FORMAT:
        raise _damaged("its header is not that of a claimlens model", path)
    if header.get("version") != _VERSION:
        raise _damaged(
            f"it is of version {header.get('version')!r}, this claimlens reads "
            f"version {_VERSION}",
            path,
        )
    arrays = header.get("arrays")
    wanted = ("origin", "trials", "heads")
    if (
        not isinstance(arrays, dict)
        or not isinstance(arrays.get("sha256"), str)
        or arrays.get("file") != _file_of(arrays["sha256"])
        or any(not isinstance(header.get(name), dict) for name in wanted)
    ):
        raise _damaged("its header lacks a part", path)
    return header


def _unpacked(blob: bytes) -> dict[str, NDArray[Any]]:
    with np.load(io.BytesIO(blob), allow_pickle=False) as archive:
        return {name: archive[name] for name in archive.files}


def _names(array: NDArray[Any]) -> tuple[str, ...]:
    text = array.tobytes().decode("utf-8", "surrogatepass")
    return tuple(text.split("\n")) if text else ()


def _rebuilt(
    header: dict[str, Any], arrays: dict[str, NDArray[Any]], digest: str
) -> Learned:
    grams, words, facts = (_names(arrays[block]) for block in _BLOCKS)
    vocabulary = Vocabulary(grams, words, facts, arrays["rarity"].astype(np.float64))
    if len(vocabulary.rarity) != len(grams) + len(words):
        raise ValueError("names and their rarity")
    heads = {}
    # trained in this order; JSON sorts its keys
    for place, what in enumerate(sorted(header["heads"])):
        told = header["heads"][what]
        weights, bias = arrays[f"weights_{place}"], arrays[f"bias_{place}"]
        classes = tuple(str(name) for name in told["classes"])
        if weights.shape != (len(classes), vocabulary.size) or bias.shape != (
            len(classes),
        ):
            raise ValueError(f"weights of the {what}")
        heads[what] = Head(
            classes=classes,
            weights=weights,
            bias=bias,
            calibration=_calibration(told["calibration"]),
            threshold=float(told["threshold"]),
            least_lead=float(told["least_lead"]),
        )
    return Learned(
        origin=Origin(**header["origin"]),
        vocabulary=vocabulary,
        heads=heads,
        trials={what: _trial(told) for what, told in header["trials"].items()},
        digest=digest,
    )


def _calibration(told: dict[str, Any]) -> Calibration:
    return Calibration(
        kind=told["kind"],
        x=tuple(float(x) for x in told["x"]),
        y=tuple(float(y) for y in told["y"]),
    )


def _number(value: float | None) -> float:
    return float("nan") if value is None else float(value)


def _trial(told: dict[str, Any]) -> Trial:
    shares = ("wrong_share", "lower", "upper")
    outcomes = [
        Outcome(**{**row, **{key: _number(row[key]) for key in shares}})
        for row in told["outcomes"]
    ]
    calibration = told["calibration"]
    return Trial(
        outcomes=tuple(outcomes),
        enabled=bool(told["enabled"]),
        verdict=str(told["verdict"]),
        allowed=_number(told["allowed"]),
        calibration=_calibration(calibration) if calibration else None,
        threshold=_number(told["threshold"]),
        least_lead=_number(told["least_lead"]),
        brier=_number(told["brier"]),
        calibration_error=_number(told["calibration_error"]),
    )
