"""The card of a process window: what to tell the pressroom, as text, markdown and HTML."""

from __future__ import annotations

import html
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from libblade import _core
from libblade._advice import LIMIT_WORDS, STATEMENT
from libblade._case import Case
from libblade._errors import refuse
from libblade._fields import FIELDS
from libblade._limits import ADDED, STEP_OUTPUTS, bound, output_of, shown
from libblade._openings import Opening, openings
from libblade._point import OUTPUTS, OperatingPoint, solve
from libblade._roll_care import RULES, STOPPED
from libblade._window import ProcessWindow, side_names
from libblade._window_job import life_history
from libblade._window_rule import EDGE

FIXED = (
    ("blade.free_length", "extension"),
    ("blade.thickness", "blade thickness"),
    ("blade.material.grade", "blade"),
    ("tip.kind", "tip"),
    ("roll.engraving.screen", "screen"),
    ("roll.engraving.cell_volume", "cell volume"),
    ("roll.land_roughness", "roughness of the lands"),
    ("ink.rheology.law", "ink law"),
    ("ink.rheology.viscosity", "ink viscosity"),
    ("ink.rheology.zero_shear_viscosity", "ink viscosity at rest"),
    ("ink.rheology.infinite_shear_viscosity", "ink viscosity at high shear"),
    ("ink.temperature", "ink temperature"),
    ("setting.surface_speed", "speed"),
    ("setting.orientation", "orientation"),
    ("setting.holding", "holding"),
)
WORDS = LIMIT_WORDS | {
    "solved": "no state of the blade",
    "life_distance": "blade life",
    "life_time": "blade life",
    "scores": "scores in the roll",
    "chips": "chipped walls",
    "first_score": "time to the first score",
    EDGE: "nothing up to the edge of the map",
}


class Table(NamedTuple):
    """Rows of words."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def markdown(self) -> str:
        """Pipes and dashes."""
        lines = [self.head, tuple("---" for _ in self.head), *self.rows]
        return "\n".join("| " + " | ".join(cell.replace("|", "/") for cell in line) + " |" for line in lines)

    def html(self) -> str:
        """A table element."""

        def line(cells: Sequence[str], tag: str) -> str:
            return "<tr>" + "".join(f"<{tag} style='text-align:left'>{html.escape(c)}</{tag}>" for c in cells) + "</tr>"

        return f"<table>{line(self.head, 'th')}{''.join(line(row, 'td') for row in self.rows)}</table>"


@dataclass(frozen=True)
class Card:
    """A process window in words and shop units; prints as markdown, shows as HTML."""

    title: str
    paragraph: str
    """What to set and why; without a window why not, and the nearest change."""
    tables: tuple[Table, ...]
    notes: tuple[tuple[str, str], ...]
    """Heading and words: what stays fixed, what was not modelled, validity, cautions."""
    openings: tuple[Opening, ...] = ()
    """Without a window: single changes that would open one, the nearest first."""

    def __str__(self) -> str:
        parts = [f"### {self.title}", self.paragraph, *(table.markdown() for table in self.tables)]
        return "\n\n".join([*parts, *(f"**{head}:** {words}" for head, words in self.notes)])

    def _repr_markdown_(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        notes = "".join(f"<p><b>{html.escape(head)}:</b> {html.escape(words)}</p>" for head, words in self.notes)
        tables = "".join(table.html() for table in self.tables)
        return f"<h3>{html.escape(self.title)}</h3><p>{html.escape(self.paragraph)}</p>{tables}{notes}"


def card_of(window: ProcessWindow, levers: Mapping[str, str] | None) -> Card:
    """See ``ProcessWindow.card``."""
    if not window.exists:
        return _closed(window, levers)
    if window.case is None:
        raise refuse("window", "no case", "must come from a sweep, or be made with its case")
    point = solve(window.case)
    tables = [_drift_table(window), _output_table(window, point)]
    name = window.case.name or "Process window"
    return Card(f"{name}: setting", _advise(window), tuple(tables), _notes(window, point))


def _place(window: ProcessWindow, dim: str, value: float) -> str:
    about = window.contains[dim].attrs
    unit = about.get("display_units", "1")
    number = value if unit == "1" else _core.field_from_si(value, unit, about["field"])
    return f"{number:.3g} {unit}".removesuffix(" 1")


def _named(dim: str) -> str:
    return dim.replace("_", " ")


def limit_words(names: Sequence[str]) -> str:
    """Limits for people, also those after a step of a shift."""
    words: list[str] = []
    for name in names:
        stem, after, step = name.partition(" after ")
        stem = "no state of the blade" if stem == "a state" else WORDS.get(stem, _named(stem))
        words.append(f"{stem}{after}{step}")
    return ", ".join(dict.fromkeys(words))


def _advise(window: ProcessWindow) -> str:
    assert window.recommended is not None
    assert window.margins is not None
    places = " and ".join(
        f"{_named(str(d))} {_place(window, str(d), window.recommended[str(d)])}" for d in window.contains.dims
    )
    loads = "load_down" in window.margins
    if not window.recommended_with_margin:
        why = f"No setting keeps one holding tolerance on every side; this one keeps the most, {window.margins.smallest:.2g}."
    elif loads:
        why = "It is the least load that keeps every limit with one holding tolerance to spare on every side."
    else:
        why = f"It keeps the most room on every side, {window.margins.smallest:.2g} holding tolerances."
    steps = [name.removeprefix("a state after ") for name in window.passed if name.startswith("a state after ")]
    judged = (
        f" Judged for the blade as run in, and after {', '.join(steps)} before it has run in anew."
        if steps
        else " Judged for the blade as run in; no steps of a shift were asked."
    )
    return f"Recommended: {places}. {why}{judged}"


def _drift_table(window: ProcessWindow) -> Table:
    assert window.recommended is not None
    assert window.margins is not None
    rows = []
    for dim in map(str, window.contains.dims):
        path, centre = str(window.contains[dim].attrs["field"]), window.recommended[dim]
        cells = [_named(dim), _place(window, dim, centre), window.tolerances[dim]]
        for side in side_names(dim, path):
            cells += [_place(window, dim, window.last_good[side]), limit_words(window.limiting[side])]
        rows.append(tuple(cells))
    return Table(("set", "at", "held to", "good down to", "then fails", "good up to", "then fails"), tuple(rows))


def _output_table(window: ProcessWindow, point: OperatingPoint) -> Table:
    assert window.recommended is not None
    rows = [
        ("angle at the roll", f"{math.degrees(point.effective_angle):.3g} deg", ""),
        ("holder advance past touch", f"{1e3 * point.interference:.3g} mm", ""),
        ("line load", f"{point.line_load:.3g} N/m", ""),
    ]
    names = [n for n in window.limits if n in OUTPUTS or n in ADDED]
    for name in dict.fromkeys(["film_on_lands", "excess_ink", "mean_pressure", *names]):
        limit = window.limits.get(name, "none set")
        if name in OUTPUTS:
            value, text = float(getattr(point, name)), shown(OUTPUTS[name], float(getattr(point, name)))
            if OUTPUTS[name].unit == "m":
                text += f" ({100.0 * value / point.ink_carried:.2g} % of the ink carried)"
        else:
            assert window.grid is not None
            text = _added_text(window, name)
        rows.append((WORDS.get(name, _named(name)), text, limit))
    if any(name in STEP_OUTPUTS for name in window.limits):
        rows.append(("load step judged", f"{100.0 * float(point.case['setting.load_step']):.3g} %, up and down", ""))
    rows.append(("state", point.regime.replace("_", " "), window.limits.get("regime", "")))
    return Table(("there", "value", "limit"), tuple(rows))


def _added_text(window: ProcessWindow, name: str) -> str:
    """Of life also the setting's own history, since the grid's is interpolated."""
    assert window.recommended is not None
    assert window.job is not None
    assert window.case is not None
    assert window.grid is not None
    output = output_of(window.grid, name)
    text = shown(output, float(window.recommended[name]))
    if not name.startswith("life"):
        return text
    story = life_history(window.case, **window.job.life)
    own = story.life.distance if name == "life_distance" else 3600.0 * story.life.hours
    if not story.convergence.ok:
        return f"{text} by the map; its own history has no answer: {story.life.ended_by}"
    low, high = limit if isinstance(limit := window.job.limits[name], tuple | list) else (None, limit)
    kept = all(
        end is None or sign * (own - float(bound(window.grid, name, end)[0])) >= 0.0
        for end, sign in ((low, 1), (high, -1))
    )
    least = "at least " if story.life.limit is None else ""
    return f"{least}{shown(output, own)} by its own history ({story.life.ended_by})" + (
        "" if kept else ": PASSES ITS LIMIT"
    )


def _fixed(window: ProcessWindow) -> str:
    case = window.case if window.case is not None else window.job.case if window.job is not None else None
    return (
        ""
        if case is None
        else fixed_words(case, {str(window.contains[d].attrs["field"]) for d in window.contains.dims})
    )


def fixed_words(case: Case, swept: Collection[str]) -> str:
    """What a job takes as given, but for the fields that are swept: "extension 12 mm; blade thickness 0.2 mm"."""
    parts = []
    for path, word in FIXED:
        value = case.get(path)
        if value is None or path in swept:
            continue
        text = (
            value.replace("_", " ")
            if isinstance(value, str)
            else f"{FIELDS[path].display(value):.4g} {FIELDS[path].display_unit}"
        )
        parts.append(f"{word} {text}".strip())
    return "; ".join(parts)


def _notes(window: ProcessWindow, point: OperatingPoint | None) -> tuple[tuple[str, str], ...]:
    asked = set(window.limits)
    left = []
    if not any(name.startswith("life") for name in asked):
        left.append("no limit on blade life was asked")
    if not asked & {"scores", "chips", "first_score"}:
        left.append("no limit on scoring was asked")
    if (
        window.grid is not None
        and "life_distance" in window.grid
        and "interpolated" in (how := str(window.grid["life_distance"].attrs["long_name"]))
    ):
        left.append("life on the map is " + how.partition(", ")[2].removeprefix("at least, "))
    if any(name.startswith("a state after ") for name in window.passed):
        left.append("after the steps of a shift limits on words, life and scoring are not judged")
    left += [
        "each drift is of one field alone, between points of the map",
        "uneven blades and holders, vibration, drying and transfer to the print are left out",
    ]
    flags = "; ".join(flag.message for flag in point.validity) if point is not None else ""
    notes = [("Fixed", _fixed(window)), ("Not modelled", "; ".join(left) + ".")]
    if point is not None:
        notes.append(("Validity", flags or "no law left its range at this setting."))
    return (*notes, ("Care", f"{STATEMENT} {STOPPED} {RULES}"))


def _closed(window: ProcessWindow, levers: Mapping[str, str] | None) -> Card:
    hardest = min(window.passed, key=lambda name: window.passed[name])
    rows = tuple(
        (
            "a state of the blade" if name == "solved" else limit_words([name]),
            window.limits.get(name, ""),
            f"{100.0 * share:.3g} %",
        )
        for name, share in window.passed.items()
    )
    words = "No setting on this map meets every limit. The hardest to meet is "
    words += f"{limit_words([hardest])}: it holds on {100.0 * window.passed[hardest]:.2g} % of the map."
    if window.passed[hardest] > 0.0:
        words += " Every limit holds somewhere, but not all together."
    found: tuple[Opening, ...] = ()
    tables = [Table(("limit", "is", "holds on"), rows)]
    if window.job is not None:
        found = openings(window, levers)
        if found:
            words += f" The nearest single change that opens a window: {found[0].words}."
            tables.append(
                Table(
                    ("single change that opens a window", "recommended with it"),
                    tuple((o.words, _with(o)) for o in found),
                )
            )
        else:
            words += " No single change of the levers tried opens one."
    case = window.job.case if window.job is not None else None
    name = case.name if case is not None and case.name else "Process window"
    return Card(f"{name}: no setting", words, tuple(tables), _notes(window, None), found)


def _with(opening: Opening) -> str:
    window = opening.window
    if window is None or window.recommended is None:
        return ""
    return ", ".join(
        f"{_named(str(d))} {_place(window, str(d), window.recommended[str(d)])}" for d in window.contains.dims
    )
