"""A lesson at the nip: a blade run in, moved and pressed, as one dictionary and as one page without any network."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import InvalidInput, refuse
from libblade._schema import path_of, write_whole

PAGE = Path(__file__).parent / "page"
ENGINE = "engine.js"
_TAG = re.compile(
    r'<link rel="stylesheet" href="(?P<css>[\w.-]+\.css)">'
    r'|<script src="(?P<js>[\w.-]+\.js)"(?P<rest>(?: id="[\w-]+")?)></script>'
    r'|(?P<case><script type="application/json" id="case">)</script>'
)
# What a browser would fetch; the names of XML's languages are no addresses to it.
_OUTSIDE = re.compile(
    r"""\bhttps?://(?!www\.w3\.org/)[^\s"'<]*|<[^<>]*\b(?:src|href)\s*=\s*["']?(?![#"']|data:|blob:)[^<>]*>"""
    r"""|\burl\(\s*["']?(?!\#|data:)[^)]*\)|@import\b[^;]*""",
    re.IGNORECASE,
)


def lesson_state(
    case: Case,
    *,
    run_in: Mapping[str, Any] | bool | None = None,
    step: float = 0.0,
    start: str = "resting",
    approved_ink: float | None = None,
    drawing: bool = True,
) -> dict[str, Any]:
    """One state of a lesson: what the page asks its engine for, here from the same core.

    ``run_in`` says where the facet was run in: None as the case says, True at the case's own setting, ``{"set_angle": "35 deg",
    "line_load": "110 N/m"}`` at that setting, after which the blade was moved here without running in again, or
    ``{"bedded_angle": "27 deg", "facet_length": "0.43 mm"}`` as an earlier answer left it. ``step`` is the relative step of the
    load (floating) or of the holder's advance (fixed) after that, -0.9 to 1. ``start`` is as for ``solve``. ``approved_ink`` is
    what the roll carried for the approved print [m]; left out, what it carries where the blade was run in. Without
    ``drawing`` blade, section and particles are left out.

    Returns the answer as a dictionary: ``status`` and ``message``, ``point`` with every number of an operating point, ``before``
    with those of the run-in state, ``facet``, ``blade``, ``section``, ``cells``, ``ink``, ``particles``, ``print``, ``rebed``,
    ``validity``, ``unusual`` and the ``case`` as solved. SI; None stands for what is no number. A state that is not found has its
    status and no point.

    Raises InvalidInput on bad values.
    """
    return _answer(case, run_in=run_in, step=step, start=start, approved_ink=approved_ink, drawing=drawing)


def lesson_life(
    case: Case, *, run_in: Mapping[str, Any] | bool | None = None, step: float = 0.0, distance: float = 2e5
) -> dict[str, Any]:
    """The blade of ``lesson_state`` wears on until its facet is parallel again, or over ``distance`` [m], at most 1e6.

    Returns ``status``, ``message`` and ``life``: ``distance`` [m], ``time`` [s], ``film_on_lands``, ``excess_ink``,
    ``facet_length`` [m], ``effective_angle``, ``facet_tilt`` [rad] and ``regime`` step by step, ``events``, and
    ``bedded_again`` with distance and time at which the tilt is down to a fiftieth of the first, or None.

    Raises InvalidInput on bad values.
    """
    return _answer(case, ask="life", run_in=run_in, step=step, distance=distance)


def _answer(case: Case, **request: Any) -> dict[str, Any]:
    require_case(case)
    try:
        text = json.dumps({"case": case.to_dict(), **request})
    except TypeError as error:
        raise refuse("request", request, f"must be numbers, texts and words: {error}") from error
    answer: dict[str, Any] = json.loads(_core.lesson_answer(text))
    if answer["problems"]:
        raise InvalidInput((p["field"], p["value"], p["allowed"]) for p in answer["problems"])
    return answer


def lesson_page(case: Case, *, engine: str | os.PathLike[str] | None = None) -> str:
    """The lesson about a case as one HTML page that refers to nothing outside itself.

    ``engine`` is the file with the built engine; left out, the one that the package was built with.

    Raises InvalidInput where there is none, or where a part of the page is missing or refers to something outside.
    """
    require_case(case)
    built = PAGE / ENGINE if engine is None else path_of(engine, "engine")
    used: set[str] = set()

    def put(tag: re.Match[str]) -> str:
        name = tag["css"] or tag["js"] or "case"
        used.add(name)
        if name == "case":
            return f"{tag['case']}{case.to_json().replace('<', chr(92) + 'u003c')}</script>"
        text = _read(built if name == ENGINE else PAGE / name, name)
        if name != ENGINE:
            _refuse_outside(text, name)
        text = _within(text)
        return f"<style>\n{text}</style>" if tag["css"] else f"<script{tag['rest']}>\n{text}</script>"

    page = _read(PAGE / "lesson.html", "lesson.html")
    _refuse_outside(_TAG.sub("", page), "lesson.html")
    page = _TAG.sub(put, page)
    for part in ("case", ENGINE):
        if part not in used:
            raise refuse("page", "lesson.html", f"has no place for {part}")
    return page


def write_lesson(case: Case, path: str | os.PathLike[str], *, engine: str | os.PathLike[str] | None = None) -> None:
    """Writes ``lesson_page`` to a file, wholly or not at all. Raises InvalidInput as it does, and when it cannot be written."""
    write_whole(path_of(path, "path"), lesson_page(case, engine=engine).encode(), "path")


def _refuse_outside(text: str, name: str) -> None:
    if found := _OUTSIDE.search(text):
        raise refuse("page", name, f"refers to something outside itself: {found[0][:60]}")


def _within(text: str) -> str:
    """A text that may stand inside a script or a style."""
    return re.sub("</(?=script|style)", r"<\\/", text, flags=re.IGNORECASE)


def _read(path: Path, name: str) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        hint = "; `make lesson` builds it, and --engine names one that is built" if name == ENGINE else ""
        raise refuse("engine" if name == ENGINE else f"page, {name}", str(path), f"is missing{hint}") from None
    except (OSError, UnicodeDecodeError) as error:
        raise refuse("engine" if name == ENGINE else "page", str(path), f"cannot be read: {error}") from error
