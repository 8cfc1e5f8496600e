"""Modules that are imported when something of them is first used.

Where one function of a module needs a slow library and most runs never call it, that import waits
for the call: a question about one craft imports no arrays.
"""

from importlib import import_module
from typing import Any


class DeferredModule:
    """Stands for a module; whatever is asked of it is the module's own.

    For a type checker import the module itself, under ``TYPE_CHECKING`` and the same name.
    """

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, asked: str) -> Any:  # noqa: ANN401  as the module has it
        """What the module has under this name; kept, so that the next use finds it at once."""
        found = getattr(import_module(self._name), asked)
        setattr(self, asked, found)
        return found
