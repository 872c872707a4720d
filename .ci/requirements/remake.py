"""Make the locked sets and the list of licences again.

Needs uv on the path: ``pip install uv && python .ci/requirements/remake.py``; with
``--licences``, in an environment that holds ``test.txt``, the list of licences alone.
"""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

HERE = Path(__file__).parent
LOCK = (
    "uv", "pip", "compile", "pyproject.toml", "--quiet", "--universal",
    "--python-version", "3.11", "--generate-hashes", "--no-annotate", "--upgrade",
    "--custom-compile-command", "python .ci/requirements/remake.py",
)  # fmt: skip
# name of the set, and what to add for it; a later one keeps to those before it
SETS = {
    "run": (),
    "test": ("--extra", "test", "--constraint", ".ci/requirements/run.txt"),
    "lowest": ("--resolution", "lowest-direct"),
}
# licences told by a word that is no SPDX identifier
SPOKEN = {
    "3-clause BSD License": "BSD-3-Clause",
    "Apache 2.0": "Apache-2.0",
    "Apache Software License": "Apache-2.0",
    "GNU Lesser General Public License v3 (LGPLv3)": "LGPL-3.0-only",
    "GNU Library or Lesser General Public License (LGPL)": "LGPL",
    "GNU General Public License (GPL)": "GPL",
    "ISC License (ISCL)": "ISC",
    "MIT License": "MIT",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "Python Software Foundation License": "PSF-2.0",
}
# what only one licence says, for packages that tell none or not which of a family
SENTENCES = {
    "Neither the name": "BSD-3-Clause",
    "None of the names": "BSD-3-Clause",
    "Redistribution and use in source and binary forms": "BSD-2-Clause",
    "Permission is hereby granted, free of charge": "MIT",
    "This software is provided 'as-is'": "Zlib",
}
HEAD = """# Licences of the locked packages

As the packages tell themselves; made by `python .ci/requirements/remake.py --licences`.

| package | licence | needed to |
|---|---|---|
"""


def locked(name: str) -> list[str]:
    """Return the names of the packages of a set, each once, in order."""
    lines = (HERE / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    return sorted({line.split("==")[0] for line in lines if "==" in line[:60]})


def written(package: Distribution) -> str:
    """Return the licence whose sentences stand in the licence files, or nothing."""
    files = [
        file
        for file in package.files or []
        if file.name.upper().startswith(("LICEN", "COPYING"))
    ]
    text = " ".join(" ".join(file.read_text() for file in files).split())
    for sentence, name in SENTENCES.items():
        if sentence.lower() in text.lower():
            return name
    return ""


def licence_of(package: Distribution) -> str:
    """Return the SPDX expression of a package, else the words it uses."""
    told = package.metadata.get("License-Expression")
    if told:
        return told
    classifiers = package.metadata.get_all("Classifier") or []
    words = [
        word.rsplit(" :: ", 1)[-1]
        for word in classifiers
        if word.startswith("License ::") and word.count(" :: ") > 1
    ]
    free = (package.metadata.get("License") or "").strip()
    if not words and free and "\n" not in free:
        words = [free]
    if not words or words == ["BSD License"]:
        # not every package brings the text along
        return written(package) or "BSD, not told which" * bool(words)
    return " / ".join(SPOKEN.get(word, word) for word in words)


def licences() -> str:
    """Return the table of all packages that any set locks."""
    run = set(locked("run")) | set(locked("lowest"))
    rows = []
    for name in sorted(run | set(locked("test"))):
        try:
            told = licence_of(distribution(name))
        except PackageNotFoundError:
            sys.exit(f"{name} is not installed here: its licence cannot be told")
        if not told:
            sys.exit(f"{name} tells no licence: read its files")
        rows.append(f"| {name} | {told} | {'run' if name in run else 'test'} |\n")
    return HEAD + "".join(rows)


def main() -> None:
    """Make all sets, or the list of licences."""
    if "--licences" in sys.argv:
        (HERE / "LICENCES.md").write_text(licences(), encoding="utf-8")
        return
    for name, more in SETS.items():
        target = f".ci/requirements/{name}.txt"
        subprocess.run(
            [*LOCK, *more, "--output-file", target], check=True, cwd=HERE.parents[1]
        )


if __name__ == "__main__":
    main()
