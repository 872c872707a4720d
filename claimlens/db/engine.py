"""How every connection of ours is set."""

from __future__ import annotations

__all__ = ["ENGINE_CONFIG"]

ENGINE_CONFIG: dict[str, str | bool | int | float | list[str]] = {
    # otherwise SQL quietly sees the variables of the calling function
    "python_enable_replacements": "false",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}
