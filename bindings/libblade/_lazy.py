"""Packages that are slow to import, brought in when they are first used."""

from __future__ import annotations

import importlib
from types import ModuleType
from typing import Any


class _Lazy(ModuleType):
    """Stands for a module until one of its names is asked for. Annotations that name it resolve too."""

    def __getattr__(self, name: str) -> Any:
        value = getattr(importlib.import_module(self.__name__), name)
        setattr(self, name, value)
        return value


def lazy(name: str) -> Any:
    """The module of that name, not imported yet."""
    return _Lazy(name)
