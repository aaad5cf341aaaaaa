"""From maps to words: the two maps, the same blade pressed harder, how far a setting may drift, and what to tell the pressroom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import refuse
from libblade._fields import FIELDS
from libblade._point import OUTPUTS, STATUSES, OperatingPoint, SpeedLimit, solve
from libblade._sweep import Progress, sweep
from libblade._units import Floats, si
from libblade._window import EDGE, ProcessWindow, _bound, _within, process_window

ANGLE, LOAD = "setting.set_angle", "setting.line_load"
STEP_OUTPUTS = {"excess_after_step": "excess_ink", "film_after_step": "film_on_lands"}
_ALWAYS = ("excess_ink", "film_on_lands", "ink_carried", "regime")
SIDE_WORDS = {"angle_down": "lower angle", "angle_up": "steeper angle", "load_down": "less load", "load_up": "more load"}
LIMIT_WORDS = {
    "excess_after_step": "excess ink after the load step",
    "excess_ink": "excess ink",
    "film_on_lands": "ink left on the lands",
    "mean_pressure": "pressure on the lands",
    "stress_ratio": "bending stress of the blade",
    "wear_rate": "blade wear",
    "not solved": "no state of the blade",
    EDGE: "the edge of the map",
}
STATEMENT = "These are statements about the equations, not about a press: try them with the care any change of setting needs."


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


def moved_limits(limits: Mapping[str, Any]) -> dict[str, Any]:
    """The limits for a blade that was moved: those on the state after a load step apply to the state itself."""
    moved: dict[str, Any] = {}
    for name, limit in limits.items():
        to = STEP_OUTPUTS.get(name, name)
        # A film just run in and a film after a move are different things: the looser limit is the one for a move.
        if name in STEP_OUTPUTS or to not in moved:
            moved[to] = limit
    return moved


def run_in_once(case: Case) -> Case:
    """The case with its blade bedded at the case's own setting, ready to be moved elsewhere without re-bedding."""
    require_case(case)
    load = case.get(LOAD)
    if load is None:
        load = solve(case, step_response=False, other_branch=False).line_load
    return case.replace(
        {"tip.bedding": "elsewhere", "tip.bedded_set_angle": f"{case[ANGLE]!r} rad", "tip.bedded_line_load": float(load)}
    )


def pressed_harder(case: Case, step: Any = 0.05) -> tuple[OperatingPoint, OperatingPoint]:
    """The blade run in at the case's setting, and the same blade right after its holder was advanced by a relative step.

    The worn facet, its bedded angle and its length stay; nothing has re-bedded. A negative step presses softer. Floating
    blades get the step on their load. Raises NotSolved when either state has no solution.
    """
    require_case(case)
    relative = si(step, "1", "step")
    if not -0.9 <= relative <= 1.0:
        raise refuse("step", step, "must lie between -0.9 and 1")
    before = solve(case)
    held = {"setting.interference": before.interference * (1.0 + relative)}
    if case["setting.holding"] == "floating":
        held = {LOAD: before.line_load * (1.0 + relative)}
    worn = {"tip.bedding": "angle", "tip.bedded_angle": f"{before.bedded_angle!r} rad", "tip.facet_length": before.facet_length}
    return before, solve(case.replace({**worn, **held}))


def nearest_setting(grid: xr.Dataset, limits: Mapping[str, Any]) -> Nearest:
    """The solved point whose worst limit is used up least. Limits must be largest values."""
    ratios: dict[str, Floats] = {}
    for name, limit in limits.items():
        if isinstance(limit, tuple | list | bool) or name not in OUTPUTS:
            continue
        key = f"{name}_result" if f"{name}_result" in grid else name
        bound, _ = _bound(grid, name, limit)
        ratios[name] = np.asarray(grid[key].values / bound)
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
    """Limits passed just beyond."""


def drift(case: Case, limits: Mapping[str, Any], *, reach: float = 0.4, points: int = 161) -> dict[str, Side]:
    """How far the set angle and the line load may drift, one at a time, once the blade has run in at the case's setting.

    The blade does not re-bed on the way. Keys ``angle_down`` ``angle_up`` ``load_down`` ``load_up``. The search covers the
    setting times 1 - ``reach`` to 1 + ``reach`` (the angle up to 89 deg); values are exact to one step of that search.
    """
    moved = moved_limits(limits)
    blade = run_in_once(case)
    out: dict[str, Side] = {}
    for path, low, high in ((ANGLE, "angle_down", "angle_up"), (LOAD, "load_down", "load_up")):
        centre, top = float(case[path]), FIELDS[path].hard_range[1]
        values = np.linspace(centre * (1.0 - reach), min(centre * (1.0 + reach), 0.999 * top), points)
        start = int(np.argmin(np.abs(values - centre)))
        values[start] = centre
        row = sweep(blade, {path: xr.DataArray(values, attrs={"units": FIELDS[path].unit})}, outputs=_outputs(moved))
        good = {"not solved": row["status"].values == list(STATUSES).index("converged")}
        good |= {name: _within(row, name, limit)[0] for name, limit in moved.items()}
        for side, order in ((low, range(start, -1, -1)), (high, range(start, points))):
            out[side] = _walk(values, good, order)
    return out


def _walk(values: Floats, good: Mapping[str, Any], order: Sequence[int]) -> Side:
    last = float("nan")
    for k in order:
        broken = tuple(name for name, mask in good.items() if not mask[k])
        if broken:
            return Side(last, ("not solved",) if "not solved" in broken else broken)
        last = float(values[k])
    return Side(last, (EDGE,))


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
    for name in dict.fromkeys(["film_on_lands", "excess_ink", "excess_after_step", *limits]):
        output, value = OUTPUTS[name], float(getattr(point, name))
        text = f"{value * output.display_scale:.3g} {output.display_unit}".removesuffix(" 1")
        if output.unit == "m":
            text += f" ({value / ink:.1%} of ink)"
        rows.append((LIMIT_WORDS.get(name, name.replace("_", " ")), text, str(limits.get(name, ""))))
    rows.append(("ink carried", f"{ink * 1e6:.3g} cm3/m2", ""))
    rows.append(("load on lands / on ink", f"{point.asperity_load_share:.0%} / {1.0 - point.asperity_load_share:.0%}", ""))
    rows.append(("state", point.regime.replace("_", " "), ""))
    return "\n".join(f"  {word:<32}{value:<26}{limit}".rstrip() for word, value, limit in rows)


def advice(maps: TwoMaps, drifts: Mapping[str, Side] | None = None, speed: SpeedLimit | None = None) -> list[str]:
    """Plain sentences: what to set, how far it may drift, what fails first on each side, and at which speed."""
    window, case = maps.window, maps.bedded
    place = f"{_shop(ANGLE, float(case[ANGLE]))} and {_shop(LOAD, float(case[LOAD]))}"
    if window.recommended is None or window.margins is None:
        over = ", ".join(
            f"{_words([name])} at {ratio:.3g} times its limit" for name, ratio in maps.nearest.ratios.items() if ratio > 1.0
        )
        reason = over or "single limits hold there, but not with a state of the blade"
        return [f"No setting on this map meets every limit. The nearest is {place}: {reason}.", STATEMENT]
    spare = "with at least one holding tolerance to spare on every side"
    if not window.recommended_with_margin:
        spare = f"but with only {window.margins.smallest:.1f} holding tolerances to spare"
    sentences = [f"Set {place} and let the blade run in there: the least load that keeps every limit, {spare}."]
    if drifts is not None:
        low, high = (_shop(ANGLE, drifts[side].value) for side in ("angle_down", "angle_up"))
        soft, hard = (_shop(LOAD, drifts[side].value) for side in ("load_down", "load_up"))
        sentences.append(
            f"Once run in it may drift between {low} and {high}, or between {soft} and {hard}, before a limit is passed."
        )
        fails = "; ".join(f"{word}: {_words(drifts[side].passed)}" for side, word in SIDE_WORDS.items())
        sentences.append(f"What fails first as a run-in blade drifts: {fails}.")
    if speed is not None:
        sentences.append(speed_words(speed))
    return [*sentences, STATEMENT]


def speed_words(speed: SpeedLimit) -> str:
    """The speeds at which a limit of excess ink is passed, in a sentence."""
    path = "setting.surface_speed"
    parts = []
    for value, end, word, way in ((speed.upper, speed.searched[1], "above", "up"), (speed.lower, speed.searched[0], "below", "down")):
        if np.isnan(value):
            parts.append(f"no limit {way} to {_shop(path, end)}")
        else:
            parts.append(f"passed {word} {_core.field_from_si(value, 'm/min', path):.0f} m/min")
    return f"Speed, with the blade run in at the case's speed: the limit of excess ink is {parts[0]}; {parts[1]}."
