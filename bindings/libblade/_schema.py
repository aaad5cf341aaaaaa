"""The shape of a case file as JSON Schema, and case files of earlier versions."""

from __future__ import annotations

import contextlib
import json
import os
import stat
import tempfile
from pathlib import Path
from typing import Any

from libblade import _core
from libblade._errors import refuse


def case_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a case file, made from the field table.

    Beyond it, and refused by ``load_case``: ranges of texts with unit, contradictions between numbers, keys given twice.
    """
    schema: dict[str, Any] = json.loads(_core.case_schema())
    return schema


def migrate_case(text: str) -> str:
    """The text of a case file of an earlier version with the names of the current one; all else stays as it is spelled.

    A current file stays as it is. Raises InvalidInput on what ``load_case`` refuses.
    """
    if not isinstance(text, str):
        raise refuse("text", text, "must be the text of a case file")
    return str(_core.migrate_case(text))


def path_of(value: Any, argument: str, kind: str = "file") -> Path:
    """A path from an argument. Raises InvalidInput on anything else."""
    if not isinstance(value, str | os.PathLike):
        raise refuse(argument, value, f"must be the path of a {kind}")
    return Path(os.fsdecode(value))


def write_whole(path: Path, content: bytes, argument: str) -> None:
    """Writes a file wholly or not at all: beside its place, then moved there. Raises InvalidInput when it cannot."""
    target = Path(os.path.realpath(path))  # a link stays a link
    if target.exists() and not target.is_file():
        raise refuse(argument, str(path), "is not a file that can be replaced")
    beside = ""
    try:
        mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else 0o666 & ~_umask()
        handle, beside = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        with open(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, mode)
        os.replace(beside, target)
        beside = ""
    except OSError as error:
        raise refuse(argument, str(path), f"cannot be written: {error.strerror}; nothing was changed") from error
    finally:
        if beside:
            with contextlib.suppress(OSError):
                os.unlink(beside)


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
