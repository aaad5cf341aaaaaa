"""From maps to words: the two maps, the same blade pressed harder, how far a setting may drift, and what to tell the pressroom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import refuse
from libblade._fields import FIELDS
from libblade._lazy import lazy
from libblade._limits import bound, moved_limits, within
from libblade._point import OUTPUTS, STATUSES, OperatingPoint, SpeedLimit, after_step, solve
from libblade._progress import Progress
from libblade._sweep import sweep
from libblade._units import Floats, si
from libblade._window import ProcessWindow, process_window
from libblade._window_rule import EDGE

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


ANGLE, LOAD = "setting.set_angle", "setting.line_load"
_ALWAYS = ("excess_ink", "film_on_lands", "ink_carried", "regime")
SIDE_WORDS = {
    "angle_down": "lower angle",
    "angle_up": "steeper angle",
    "load_down": "less load",
    "load_up": "more load",
}
LIMIT_WORDS = {
    "excess_after_step": "excess ink after the load step",
    "excess_ink": "excess ink",
    "film_on_lands": "ink left on the lands",
    "mean_pressure": "pressure on the lands",
    "stress_ratio": "bending stress of the blade",
    "wear_rate": "blade wear",
    "not solved": "no state of the blade",
    "regime": "resting on one end of the facet",
    EDGE: "the edge of the map",
}
STATEMENT = (
    "These are statements about the equations, not about a press: try them with the care any change of setting needs."
)


@dataclass(frozen=True)
class Nearest:
    """The setting that comes nearest to meeting every limit."""

    set_angle: float
    """[rad]."""
    line_load: float
    """[N/m]."""
    ratios: dict[str, float]
    """Value over limit there [-]; above 1 the limit is passed."""

    @property
    def worst(self) -> str:
        """The limit that is passed most, or used up most."""
        return max(self.ratios, key=lambda name: self.ratios[name])


@dataclass(frozen=True)
class TwoMaps:
    """Blade run in everywhere, and run in once and moved."""

    everywhere: xr.Dataset
    """Each setting bedded at itself, with its step response."""
    once: xr.Dataset
    """Bedded at ``bedded``, moved to every other setting without re-bedding."""
    window: ProcessWindow
    """On ``everywhere``."""
    reach: ProcessWindow
    """On ``once``: where the blade that was run in at ``bedded`` keeps its limits."""
    bedded: Case
    """The recommended setting; without a window the nearest one."""
    nearest: Nearest
    """The setting that uses up its limits least."""

    @property
    def mark(self) -> dict[str, float]:
        """Set angle [rad] and line load [N/m] of ``bedded``."""
        return {"set_angle": float(self.bedded[ANGLE]), "line_load": float(self.bedded[LOAD])}


def two_maps(
    case: Case,
    fields: Mapping[str, Any],
    limits: Mapping[str, Any],
    *,
    angle_tolerance: Any = "1 deg",
    load_tolerance: Any = 0.1,
    threads: int = 0,
    progress: Progress = False,
) -> TwoMaps:
    """Both maps over set angle and line load, the process window on each, and the setting to recommend.

    ``fields`` is as for ``sweep`` and names set angle and line load; ``limits`` is as for ``process_window`` (largest values).
    A limit on the state after the load step becomes the same limit on the state itself where the blade was moved.

    Raises InvalidInput on bad fields or limits.
    """
    require_case(case)
    tolerances = {"angle_tolerance": angle_tolerance, "load_tolerance": load_tolerance}
    here = case.replace({"tip.bedding": "here"})
    everywhere = sweep(here, fields, threads=threads, progress=progress, outputs=_outputs(limits))
    window = process_window(everywhere, limits, **tolerances)
    nearest = nearest_setting(everywhere, limits)
    place = window.recommended or {"set_angle": nearest.set_angle, "line_load": nearest.line_load}
    bedded = here.replace({ANGLE: f"{place['set_angle']!r} rad", LOAD: float(place["line_load"])})
    moved = moved_limits(limits)
    once = sweep(run_in_once(bedded), fields, threads=threads, progress=progress, outputs=_outputs(moved))
    return TwoMaps(everywhere, once, window, process_window(once, moved, **tolerances), bedded, nearest)


def _outputs(limits: Mapping[str, Any]) -> list[str]:
    return list(dict.fromkeys([*_ALWAYS, *(str(name) for name in limits)]))


def run_in_once(case: Case) -> Case:
    """The case with its blade bedded at the case's own setting, ready to be moved elsewhere without re-bedding."""
    require_case(case)
    load = case.get(LOAD)
    if load is None:
        load = solve(case, step_response=False, other_branch=False).line_load
    return case.replace(
        {
            "tip.bedding": "elsewhere",
            "tip.bedded_set_angle": f"{case[ANGLE]!r} rad",
            "tip.bedded_line_load": float(load),
        }
    )


def pressed_harder(case: Case, step: Any = 0.05) -> tuple[OperatingPoint, OperatingPoint]:
    """The blade run in at the case's setting, and the same blade right after its holder was advanced by a relative step.

    The worn facet, its bedded angle and its length stay; nothing has re-bedded, and the blade stays on the branch it ran on for
    as long as there is one. A negative step presses softer. Floating blades get the step on their load. Raises NotSolved when
    either state has no solution.
    """
    require_case(case)
    relative = si(step, "1", "step")
    if not -0.9 <= relative <= 1.0:
        raise refuse("step", step, "must lie between -0.9 and 1")
    before = solve(case)
    held = {"setting.interference": before.interference * (1.0 + relative)}
    if case["setting.holding"] == "floating":
        held = {LOAD: before.line_load * (1.0 + relative)}
    worn = {
        "tip.bedding": "angle",
        "tip.bedded_angle": f"{before.bedded_angle!r} rad",
        "tip.facet_length": before.facet_length,
    }
    return before, after_step(case, case.replace({**worn, **held}), relative)


def nearest_setting(grid: xr.Dataset, limits: Mapping[str, Any]) -> Nearest:
    """The solved point whose worst limit is used up least. Limits must be largest values."""
    ratios: dict[str, Floats] = {}
    for name, limit in limits.items():
        if isinstance(limit, tuple | list | bool) or name not in OUTPUTS:
            continue
        key = f"{name}_result" if f"{name}_result" in grid else name
        largest, _ = bound(grid, name, limit)
        ratios[name] = np.asarray(grid[key].values / largest)
    if not ratios:
        raise refuse("limits", dict(limits), "must hold at least one largest value")
    worst = np.max(np.stack(list(ratios.values())), axis=0)
    worst = np.where(np.isfinite(worst), worst, np.inf)
    place = np.unravel_index(int(np.argmin(worst)), worst.shape)
    index = dict(zip((str(d) for d in grid["status"].dims), (int(k) for k in place), strict=True))
    return Nearest(
        float(grid["set_angle"][index["set_angle"]]),
        float(grid["line_load"][index["line_load"]]),
        {name: float(values[place]) for name, values in ratios.items()},
    )


@dataclass(frozen=True)
class Side:
    """How far a setting may drift to one side."""

    value: float
    """Last value at which every limit holds [SI of the field]."""
    passed: tuple[str, ...]
    """Limits passed just beyond; empty when none was up to the end of the search."""


def drift(case: Case, limits: Mapping[str, Any], *, reach: float = 0.4) -> dict[str, Side]:
    """How far the set angle and the line load may drift, one at a time, once the blade has run in at the case's setting.

    The blade does not re-bed on the way. Keys ``angle_down`` ``angle_up`` ``load_down`` ``load_up``. The search covers the
    setting times 1 - ``reach`` to 1 + ``reach`` in 24 steps each way and refines the first bad one to 1/4000 of the reach; a
    bad stretch narrower than a step can be missed.
    """
    if not 0.0 < reach < 0.9:
        raise refuse("reach", reach, "must lie between 0 and 0.9")
    moved = moved_limits(limits)
    blade = run_in_once(case)
    out: dict[str, Side] = {}
    for path, low, high in ((ANGLE, "angle_down", "angle_up"), (LOAD, "load_down", "load_up")):
        centre, top = float(case[path]), 0.999 * FIELDS[path].hard_range[1]
        out[low] = _search(blade, path, (centre, centre * (1.0 - reach)), moved)
        out[high] = _search(blade, path, (centre, min(centre * (1.0 + reach), top)), moved)
    return out


def _search(blade: Case, path: str, ends: tuple[float, float], limits: Mapping[str, Any]) -> Side:
    """Walks from the first end to the second, three times ever finer; NaN when the first end is bad already."""
    last, first_bad = float("nan"), ends[1]
    passed: tuple[str, ...] = ()
    start = ends[0]
    for steps in (24, 16, 12):
        values = np.linspace(start, first_bad, steps + 1)
        row = sweep(blade, {path: xr.DataArray(values, attrs={"units": FIELDS[path].unit})}, outputs=_outputs(limits))
        good = {"not solved": row["status"].values == list(STATUSES).index("converged")}
        good |= {name: within(row, name, limit).holds for name, limit in limits.items()}
        bad = next((k for k in range(steps + 1) if not all(mask[k] for mask in good.values())), None)
        if bad is None:
            return Side(float(values[-1]), passed)
        passed = tuple(name for name, mask in good.items() if not mask[bad])
        passed = ("not solved",) if "not solved" in passed else passed
        if bad == 0:
            return Side(last, passed)
        last = start = float(values[bad - 1])
        first_bad = float(values[bad])
    return Side(last, passed)


def _words(names: Sequence[str]) -> str:
    return " and ".join(LIMIT_WORDS.get(name, name.replace("_", " ")) for name in names)


def _shop(path: str, value: float) -> str:
    field = FIELDS[path]
    return f"{field.display(value):.3g} {field.display_unit}" if np.isfinite(value) else "none"


def setting_table(point: OperatingPoint, limits: Mapping[str, Any]) -> str:
    """What a setting does, in shop units, beside its limits (the texts of ``ProcessWindow.limits``)."""
    case = point.case
    rows = [
        ("set angle", _shop(ANGLE, float(case[ANGLE])), ""),
        ("line load", f"{point.line_load:.3g} N/m", ""),
        ("holder advance past touch", f"{point.interference * 1e3:.3g} mm", ""),
        ("angle at the roll", f"{np.degrees(point.effective_angle):.3g} deg", ""),
        ("worn facet", f"{point.facet_length * 1e6:.0f} um", ""),
    ]
    ink = point.ink_carried
    for name in dict.fromkeys(
        ["film_on_lands", "excess_ink", "excess_after_step", *(k for k in limits if k in OUTPUTS)]
    ):
        output, value = OUTPUTS[name], float(getattr(point, name))
        text = f"{value * output.display_scale:.3g} {output.display_unit}".removesuffix(" 1")
        if output.unit == "m":
            text += f" ({value / ink:.1%} of ink)"
        rows.append((LIMIT_WORDS.get(name, name.replace("_", " ")), text, str(limits.get(name, ""))))
    rows.append(("ink carried", f"{ink * 1e6:.3g} cm3/m2", ""))
    rows.append(
        ("load on lands / on ink", f"{point.asperity_load_share:.0%} / {1.0 - point.asperity_load_share:.0%}", "")
    )
    rows.append(("state", point.regime.replace("_", " "), ""))
    return "\n".join(f"  {word:<32}{value:<26}{limit}".rstrip() for word, value, limit in rows)


def advice(maps: TwoMaps, drifts: Mapping[str, Side] | None = None, speed: SpeedLimit | None = None) -> list[str]:
    """Plain sentences: what to set, how far it may drift, what fails first on each side, and at which speed."""
    window, case = maps.window, maps.bedded
    place = f"{_shop(ANGLE, float(case[ANGLE]))} and {_shop(LOAD, float(case[LOAD]))}"
    if window.recommended is None or window.margins is None:
        over = ", ".join(
            f"{_words([name])} at {ratio:.3g} times its limit"
            for name, ratio in maps.nearest.ratios.items()
            if ratio > 1.0
        )
        reason = over or "single limits hold there, but not with a state of the blade"
        return [f"No setting on this map meets every limit. The nearest is {place}: {reason}.", STATEMENT]
    spare = "with at least one holding tolerance to spare on every side"
    if not window.recommended_with_margin:
        spare = f"but with only {window.margins.smallest:.1f} holding tolerances to spare"
    sentences = [f"Set {place} and let the blade run in there: the least load that keeps every limit, {spare}."]
    if drifts is not None:
        sentences += _drift_words(case, drifts)
    if speed is not None:
        sentences.append(speed_words(speed))
    return [*sentences, STATEMENT]


def _drift_words(case: Case, drifts: Mapping[str, Side]) -> list[str]:
    reaches, fails = [], []
    for path, sides in ((ANGLE, ("angle_down", "angle_up")), (LOAD, ("load_down", "load_up"))):
        parts = []
        for name in sides:
            side = drifts[name]
            room = FIELDS[path].display(abs(side.value - float(case[path])))
            unit, word = FIELDS[path].display_unit, SIDE_WORDS[name]
            if np.isnan(side.value):
                parts.append(f"not at all to a {word}")
            elif side.passed:
                parts.append(f"{room:.2g} {unit} to {_article(word)}")
            else:
                parts.append(f"at least {room:.2g} {unit} to {_article(word)}")
            fails.append(f"{word}: {_words(side.passed) if side.passed else 'nothing within the search'}")
        reaches.append(" and ".join(parts))
    return [
        f"Once run in it may drift {reaches[0]}, or {reaches[1]}, before a limit is passed (it has not re-bedded yet).",
        f"What fails first as it drifts: {'; '.join(fails)}.",
    ]


def _article(word: str) -> str:
    return word if word.endswith("load") else f"a {word}"


def speed_words(speed: SpeedLimit) -> str:
    """The speeds at which a limit of excess ink is passed, in a sentence."""
    low, high = (f"{_core.field_from_si(v, 'm/min', 'setting.surface_speed'):.0f} m/min" for v in speed.searched)
    passed = [
        f"{word} {_core.field_from_si(value, 'm/min', 'setting.surface_speed'):.0f} m/min"
        for value, word in ((speed.upper, "above"), (speed.lower, "below"))
        if not np.isnan(value)
    ]
    found = f"is passed {' and '.join(passed)}" if passed else "is not passed"
    return f"Speed alone, without re-bedding: between {low} and {high} the limit of excess ink {found}."
