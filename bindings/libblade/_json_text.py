"""JSON text from outside, other than case files, which the core reads: any text is read or refused, in bounded time and memory."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from libblade._errors import refuse

LARGEST = 1 << 20
"""Bytes; what people write by hand has some thousands."""
DEEPEST = 16


def text_of(path: Path, argument: str) -> str:
    """The text of a file. Raises InvalidInput, naming argument and file, when it cannot be read or is no such text."""
    try:
        with open(path, "rb") as file:
            content = file.read(LARGEST + 1)
        if len(content) > LARGEST:
            raise refuse(argument, str(path), "is larger than 1 MiB, which no such file is")
        return content.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise refuse(argument, str(path), f"cannot be read: {error}") from error


def json_of(text: str, argument: str) -> Any:
    """What JSON text says. Raises InvalidInput with line and column of a syntax error, on a key given twice, numbers beyond a
    double, text that is no Unicode, nesting deeper than 16 and more than 1 MiB."""
    if not isinstance(text, str):
        raise refuse(argument, text, "must be JSON text")
    if len(text) > LARGEST:
        raise refuse(argument, "", "is larger than 1 MiB, which no such text is")

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        out = dict(pairs)
        if len(out) < len(pairs):
            twice = next(name for k, (name, _) in enumerate(pairs) if name in dict(pairs[:k]))
            raise refuse(argument, twice, "is given twice")
        return out

    def number(word: str) -> float:
        value = float(word)
        if not math.isfinite(value):
            raise refuse(argument, word, "is not a finite number")
        return value

    def whole(word: str) -> int:
        number(word)
        return int(word)

    try:
        tree = json.loads(text, object_pairs_hook=once, parse_float=number, parse_int=whole, parse_constant=number)
        if _depth(tree) > DEEPEST:
            raise refuse(argument, "", "is nested too deeply")
        json.dumps(tree, ensure_ascii=False).encode("utf-8")
    except json.JSONDecodeError as error:
        raise refuse(argument, f"line {error.lineno}, column {error.colno}", f"is not JSON: {error.msg}") from error
    except RecursionError as error:
        raise refuse(argument, "", "is nested too deeply") from error
    except UnicodeEncodeError as error:
        raise refuse(argument, "", "holds half of a letter: a surrogate without its other half") from error
    return tree


def _depth(tree: Any) -> int:
    """Of objects and lists, without recursion."""
    depth, level = 0, [tree]
    while (holders := [node for node in level if isinstance(node, dict | list)]) and depth <= DEEPEST:
        level = [item for node in holders for item in (node.values() if isinstance(node, dict) else node)]
        depth += 1
    return depth
