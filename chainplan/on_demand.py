"""Names of a package that are imported when they are first used, so that it stays cheap."""

from __future__ import annotations

TYPE_CHECKING = False  # as typing has it, without what importing typing takes
if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from typing import Any


def names_on_demand(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return the ``__getattr__`` of a package.

    Parameters
    ----------
    package : str
        Its name.
    homes : mapping
        The module below it that each name is in.
    """

    def find(name: str) -> Any:
        if name not in homes:
            message = f"module {package!r} has no attribute {name!r}"
            raise AttributeError(message)
        import sys
        from importlib import import_module

        value = getattr(import_module(f"{package}.{homes[name]}"), name)
        setattr(sys.modules[package], name, value)
        return value

    return find
