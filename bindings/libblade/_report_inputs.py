"""The closing parts of a report: inputs with their sources, validity, what was left out, cautions, and how it was made."""

from __future__ import annotations

import importlib.metadata
import json
import platform
import warnings
from collections.abc import Iterator
from typing import Any

from libblade import _core
from libblade._case import Case
from libblade._errors import InvalidInput, LibbladeWarning
from libblade._fields import FIELDS, Field
from libblade._report_blocks import Section
from libblade._report_parts import Asked, Found
from libblade._roll_care import CHEMICALS, HEAVY, RULES, STOPPED

PARTS = {"blade": "Blade", "tip": "Tip", "roll": "Roll", "ink": "Ink", "setting": "Setting"}
LEFT_OUT = (
    "the equations' own errors, and inputs that hang together: each is taken to be uncertain on its own",
    "uneven blades, holders and rolls along the width, vibration and chatter",
    "air in the cells and surface tension, drying of the ink, and its transfer to plate and print",
    "heat beyond one balance for the film; sudden changes faster than the blade settles",
    "a scored or chipped roll is not followed on; damage in handling and mounting is not in it",
)


def inputs(asked: Asked, _found: Found, section: Section) -> None:
    """Every field of the case, with where its usual range comes from."""
    case = asked.case
    strange = {path: message for path, _, message in _core.unusual(case._core)}
    defaults = default_values(case)
    section.say(
        "As the case holds them. Set angle and line load are varied on the maps. "
        '"Default": the value is the one libblade takes where a case does not state it, so nobody may have looked at it. '
        "The source is that of the usual range."
    )
    for name, heading in PARTS.items():
        rows = [
            (
                field.meaning,
                value,
                usual_range(field),
                _usual(path, case, path in strange),
                "default" if path in defaults else "stated",
                field.source or "-",
            )
            for path, field, value in _held(case, name)
        ]
        section.table(heading, ("input", "value", "usual range", "in it?", "stated?", "source"), rows)
    for path, message in strange.items():
        section.say(f"{FIELDS[path].meaning} {message}." if path in FIELDS else f"{path} {message}.", "warning")


def _held(case: Case, part: str) -> Iterator[tuple[str, Field, str]]:
    for path, field in FIELDS.items():
        if path.startswith(f"{part}.") and (value := case.get(path)) is not None and not case._repeats(path):
            yield path, field, value.replace("_", " ") if isinstance(value, str) else field.text(value)


def usual_range(field: Field) -> str:
    """ "0.1 to 0.3 mm"; a dash for a choice."""
    low, high = field.usual_range
    if field.kind != "number" or not low < high:
        return "-"
    return f"{field.display(low):.4g} to {field.display(high):.4g} {field.display_unit}".rstrip()


def _usual(path: str, case: Case, strange: bool) -> str:
    if not isinstance(case.get(path), float) or usual_range(FIELDS[path]) == "-":
        return "-"
    return "NO" if strange else "yes"


def default_values(case: Case) -> set[str]:
    """Paths whose value is the one they have when the case does not state them."""
    out = set()
    for path, field in FIELDS.items():
        value = case.get(path)
        if field.required or value is None or ".0." in path:
            continue
        tree = case.to_dict()
        *groups, leaf = path.split(".")
        try:
            branch: Any = tree
            for group in groups:
                branch = branch[group]
            del branch[leaf if leaf in branch else f"{leaf}_rad"]
        except (KeyError, TypeError):
            continue
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", LibbladeWarning)
                other = Case._wrap(_core.read_case(json.dumps(tree)))
        except InvalidInput:
            continue
        if other.get(path) == value:
            out.add(path)
    return out


def validity(_asked: Asked, found: Found, section: Section) -> None:
    """Laws that left their range."""
    point = found.results.get("point")
    if point is None or not point.convergence.ok:
        section.say("Not known: there is no solved state at the setting.", "warning")
        return
    section.say(f"Of the equations at {found.where}.")
    section.list([f"{flag.message} (value {flag.value:.3g}, limit {flag.limit:.3g})" for flag in point.validity])
    if not point.validity:
        section.say("No law left its range.")


def left_out(_asked: Asked, found: Found, section: Section) -> None:
    """What nobody should read into the answer."""
    card = found.results.get("card")
    told = [words.rstrip(".") for head, words in card.notes if head == "Not modelled"] if card is not None else []
    section.list([*(part for words in told for part in words.split("; ")), *LEFT_OUT])


def unsolved(_asked: Asked, found: Found, section: Section) -> None:
    """All of it in one place."""
    section.list(found.unsolved)
    section.list([f"{name}: could not be made: {words}" for name, words in found.failed.items()])
    if not found.unsolved and not found.failed:
        section.say("Everything that was asked was made and solved.")


def cautions(_asked: Asked, _found: Found, section: Section) -> None:
    """What can hurt whoever tries a setting."""
    section.say(
        f"{RULES} Work on the press is for people trained and, where the law asks for it, licensed for it. Nothing here releases a "
        "setting, a guard or a cleaner.",
        "warning",
    )
    section.list(
        [
            STOPPED,
            CHEMICALS,
            "Caustic cleaners and solvents: only those that the makers of roll, blade and ink allow, and only as strong.",
            HEAVY,
            "Change one thing in small steps and look at the print after each: a setting that keeps its limits here may not on the "
            "press.",
            "A used blade is as sharp as a new one: into a closed container, never into a bin.",
        ]
    )


def made_with(asked: Asked, found: Found, section: Section) -> None:
    """Versions, seed, grid and samples."""
    rows = [("libblade", _core.version), ("Python", platform.python_version())]
    for package in ("numpy", "xarray", "scipy", "matplotlib", "Jinja2"):
        try:
            rows.append((package, importlib.metadata.version(package)))
        except importlib.metadata.PackageNotFoundError:
            rows.append((package, "not there"))
    rows.append(("map", " x ".join(str(values.size) for values in asked.fields.values()) + " points, twice"))
    if "uncertainty" in found.results:
        rows.append(("samples of the inputs", f"{asked.samples}, seed {asked.seed}"))
    if (risk := found.results.get("scoring")) is not None and risk.uncertain is not None:
        rows.append(("draws of the scoring", f"{risk.uncertain.samples}, seed {risk.uncertain.seed}"))
    if "life" in found.results:
        rows.append(("life", ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in asked.life.items())))
    section.table("Versions and numbers of points", ("what", "is"), rows)
    section.say("The same inputs, versions and seeds give the same numbers.")
