"""Figures of scoring risk: maps, entry size, filter sizes and levers, each with a sentence that says the same."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._errors import refuse
from libblade._fields import FIELDS
from libblade._lazy import lazy
from libblade._plots import (
    BLUE,
    GREY,
    LABELS,
    ORANGE,
    STATEMENT,
    _coordinate,
    _grey_failed,
    _hatch_regimes,
    _map_dims,
    _mark_place,
    _matplotlib,
    _new_axes,
    _pyplot,
    _stroke,
    _unit,
    failure_reasons,
    label_below,
    label_once,
    plot_map_legend,
    plot_style,
)
from libblade._scoring import CENTURY, DAMAGE
from libblade._scoring_levers import Lever, ScoringLevers
from libblade._units import Floats

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
else:
    xr = lazy("xarray")

WORDS = {
    "smeared": "particles smeared",
    "props": "streaks: blade propped up",
    "nicks": "notches in the blade",
    "stays": "particles left in the blade",
    "dents": "dents in the roll",
    "scores": "scores in the roll",
    "chips": "chipped walls",
}
FLOOR = 1e-6  # [1/h], once in a century
COUNTS = "How many particles come is assumed: compare places, not numbers."
FURTHEST = 1e6  # of a lever's ratio


def _rate(data: xr.Dataset, name: str) -> Floats:
    """[1/h]."""
    if not isinstance(data, xr.Dataset) or name not in DAMAGE or name not in data:
        raise refuse("name", name, f"must be a rate of a libblade.scoring_map: {', '.join(DAMAGE)}")
    return np.asarray(data[name].values * float(data[name].attrs["display_scale"]))


def _shop(data: xr.Dataset, dim: str) -> tuple[Floats, str]:
    """Values of a varied field in shop units, and the label of its axis."""
    attrs = data[dim].attrs
    if attrs["field"] in FIELDS:
        values, label, _ = _coordinate(data, dim)
        return values, label
    word = LABELS.get(dim, str(attrs["long_name"]))
    return data[dim].values * attrs["display_scale"], f"{word} [{_unit(attrs['display_units'])}]"


def _only_dim(data: Any, field: str | None = None) -> str:
    dims = data["status"].dims if isinstance(data, xr.Dataset) and "status" in data else ()
    if len(dims) != 1 or (field is not None and data[dims[0]].attrs["field"] != field):
        raise refuse("data", type(data).__name__, f"must be a libblade.scoring_map over {field or 'one field'} alone")
    return str(dims[0])


def _decades(rates: Sequence[Floats]) -> Floats:
    """Levels a decade apart, from once in a century to the largest rate."""
    top = max((float(np.nanmax(r)) for r in rates if np.isfinite(r).any()), default=FLOOR)
    low = math.log10(FLOOR)
    return np.asarray(10.0 ** np.arange(low, max(math.ceil(math.log10(max(top, FLOOR))), low + 1) + 1))


def plot_scoring_map(
    data: xr.Dataset,
    name: str = "scores",
    ax: Axes | None = None,
    *,
    mark: Mapping[str, Any] | None = None,
    levels: Floats | None = None,
    colorbar: bool = True,
    legend: bool = True,
    title: str | None = None,
) -> Axes:
    """A map of one rate over two fields, set angle across: a level a decade, from once in a century up [1/h].

    ``data`` is a ``scoring_map`` over two fields, ``name`` a kind of damage ("scores", "chips", "props", "nicks", "stays",
    "dents", "smeared"). Regimes are hatched, points that are not solved grey with the reason; ``mark`` is a setting,
    coordinates [SI] by dimension.
    """
    across, up = _map_dims(data)
    rate = _rate(data, name)
    data = data.transpose(up, across, ...)
    with plot_style():
        axes = _new_axes(1, 6.2, 4.8)[0] if ax is None else ax
        (x, x_label), (y, y_label) = _shop(data, across), _shop(data, up)
        levels = _decades([rate]) if levels is None else levels
        values = np.ma.masked_invalid(np.maximum(_rate(data, name), 0.1 * FLOOR))
        _grey_failed(axes, data, name, x, y)
        norm = _matplotlib("colors").BoundaryNorm(levels, 256, extend="both")
        filled = axes.contourf(x, y, values, levels=levels, norm=norm, cmap="cividis", extend="both")
        _hatch_regimes(axes, data, x, y, values=values, middle=float(levels[len(levels) // 2]))
        _contour_lines(axes, x, y, values, levels)
        if mark is not None:
            place = _mark_place(data, mark, across, up)
            axes.plot(
                *place, marker="P", markersize=11, color="white", mec="black", mew=1.4, zorder=7, ls="", clip_on=False
            )
        axes.set(xlabel=x_label, ylabel=y_label, xlim=(x.min(), x.max()), ylim=(y.min(), y.max()))
        axes.set_title(WORDS[name].capitalize() if title is None else title)
        if colorbar:
            _bar(filled, [axes], levels, name)
        if legend:
            plot_map_legend(
                [(data, name)],
                None,
                axes,
                marked=False,
                loc="upper center",
                bbox_to_anchor=(0.5, -0.14),
            )
    return axes


def _contour_lines(axes: Axes, x: Floats, y: Floats, values: Any, levels: Floats) -> None:
    """Every other decade; labelled where it does not crowd with the one below."""
    lines = axes.contour(
        x, y, np.log10(values), levels=np.log10(levels[::2]), colors="white", linewidths=0.9, linestyles="-"
    )
    labelled: list[float] = []
    last = 0.0
    for level in levels[::2]:
        if np.mean((values.filled(0.0) >= last) & (values.filled(0.0) < level)) >= 0.03:
            labelled.append(float(np.log10(level)))
            last = float(level)
    for label in (
        axes.clabel(lines, labelled, fmt=lambda v: _level(10.0**v, " / h"), fontsize=7.5, inline=True)
        if labelled
        else ()
    ):
        label.set_path_effects(_stroke("#20242a", 2.0))


def _bar(filled: Any, axes: Sequence[Axes], levels: Floats, name: str) -> None:
    bar = axes[0].figure.colorbar(filled, ax=list(axes), pad=0.02, ticks=levels)
    bar.ax.set_yticklabels([_level(level) for level in levels])
    bar.set_label(f"{WORDS[name]} [1/h]")


def _level(rate: float, unit: str = "") -> str:
    return "1 a century" if rate < 2.0 * FLOOR else f"{rate:g}{unit}"


def plot_scoring_maps(
    everywhere: xr.Dataset,
    once: xr.Dataset,
    name: str = "scores",
    axes: Sequence[Axes] | None = None,
    *,
    mark: Mapping[str, Any] | None = None,
) -> Any:
    """Two maps side by side: run in everywhere, and run in once (at ``mark``) and moved without re-bedding. Returns the axes."""
    with plot_style():
        pair = _new_axes(2, 11.6, 5.8, sharey=True) if axes is None else axes
        levels = _decades([_rate(everywhere, name), _rate(once, name)])
        titles = (
            "Run in everywhere:\neach setting bedded at itself",
            "Run in once: bedded at the mark,\nthen moved without re-bedding",
        )
        for ax, data, title in zip(pair, (everywhere, once), titles, strict=True):
            plot_scoring_map(data, name, ax, mark=mark, levels=levels, colorbar=False, legend=False, title=title)
        label_once(pair)
        norm = _matplotlib("colors").BoundaryNorm(levels, 256, extend="both")
        _bar(_matplotlib("cm").ScalarMappable(norm, "cividis"), pair, levels, name)
        plot_map_legend(
            [(everywhere, name), (once, name)], None, pair[0].figure, marked=False, loc="outside lower center", ncols=3
        )
    return pair


def plot_entry(data: xr.Dataset, axes: Sequence[Axes] | None = None) -> Any:
    """Largest particle drawn in, and the gap at the mouth, over one field; the facet's tilt below. Returns the two axes."""
    dim = _only_dim(data)
    with plot_style():
        if axes is None:
            figure, axes = _pyplot().subplots(2, 1, figsize=(6.4, 5.2), layout="constrained", sharex=True)
            del figure
        x, label = _shop(data, dim)
        entry, mouth = data.entry_size.values * 1e6, data.leading_gap.values * 1e6
        axes[0].plot(x, entry, color=BLUE, marker="o", ms=4, label="largest particle drawn in")
        axes[0].plot(x, mouth, color=GREY, ls="--", label="gap at the mouth of the facet")
        axes[0].plot(x, data.film_on_lands.values * 1e6, color=ORANGE, ls=":", label="ink left on the lands")
        axes[0].set(ylabel=f"height [{_unit('um')}]", yscale="log", title="What fits under the blade")
        axes[0].legend()
        axes[1].axhline(0.0, color=GREY, lw=0.8)
        axes[1].plot(x, np.degrees(data.facet_tilt.values), color=BLUE, marker="o", ms=4)
        label_below(axes, label)
        axes[1].set(ylabel=f"facet tilt [{_unit('deg')}]")
        axes[1].set_title("Facet to roll; above 0 it opens towards the ink")
    return axes


def plot_filter(data: xr.Dataset, ax: Axes | None = None, *, names: Sequence[str] = ("scores", "chips")) -> Axes:
    """Rates [1/h] against the size of the filter, both logarithmic; ``data``: a ``scoring_map`` over ``loop.filter.size`` alone."""
    dim = _only_dim(data, "loop.filter.size")
    with plot_style():
        axes = _new_axes(1, 6.0, 3.8)[0] if ax is None else ax
        x, _ = _shop(data, dim)
        colours = _pyplot().rcParams["axes.prop_cycle"].by_key()["color"]
        looks = zip((BLUE, ORANGE, GREY, *colours), ("-", "--", ":", "-.") * 4, "os^vDPX", strict=False)
        for name, (colour, style, marker) in zip(names, looks, strict=False):
            axes.plot(x, _rate(data, name), color=colour, ls=style, marker=marker, ms=4, label=WORDS[name])
        axes.set(xscale="log", yscale="log", ylabel="rate [1/h]")
        axes.set_xlabel(f"size at which the filter is rated [{_unit('um')}]")
        axes.set_title("A finer filter")
        axes.legend()
    return axes


def plot_levers(levers: ScoringLevers, ax: Axes | None = None) -> Axes:
    """What each lever does to the score rate: bars on a logarithmic axis, 1 where it changes nothing; chipped walls as a mark.

    Ratios beyond a million are drawn at the edge. At the right: the number, and the ink on the lands where it changes.
    """
    told = _told(levers)
    with plot_style():
        axes = _new_axes(1, 9.0, 1.2 + 0.36 * len(told))[0] if ax is None else ax
        reach = min(
            max(abs(math.log10(_near(v))) for one in told for v in (one.score_ratio, one.chip_ratio)) + 0.3, 6.3
        )
        reach = max(reach, 0.5)
        for k, lever in enumerate(told):
            ratio = _near(lever.score_ratio)
            more = ratio > 1.0
            axes.barh(
                k,
                ratio - 1.0,
                left=1.0,
                height=0.62,
                color=ORANGE if more else BLUE,
                hatch="///" if more else "",
                ec="white",
            )
            if math.isfinite(lever.chip_ratio):
                axes.plot(_near(lever.chip_ratio), k, marker="D", ms=5, color="white", mec="black", ls="", zorder=5)
        axes.axvline(1.0, color="#33373d", lw=0.9)
        axes.set(xscale="log", xlim=(10.0**-reach, 10.0**reach), ylim=(len(told) - 0.4, -0.7))
        axes.set_yticks(range(len(told)), [textwrap.shorten(lever.words, 52, placeholder=" ...") for lever in told])
        right = axes.secondary_yaxis("right")
        right.set_yticks(range(len(told)), [_result(lever) for lever in told], fontsize=8)
        right.tick_params(length=0)
        right.spines["right"].set_visible(False)
        axes.set_xlabel("scores over those without the change [-]")
        axes.set_title("What would score less, one change at a time")
        _lever_legend(axes)
    return axes


def _result(lever: Lever) -> str:
    """ "x 0.1; ink 1.2 -> 0.9 um"."""
    number = f"\N{MULTIPLICATION SIGN} {lever.score_ratio:.2g}" if math.isfinite(lever.score_ratio) else "no scores"
    a, b = (f"{1e6 * risk.film_on_lands:.2g}" for risk in (lever.before, lever.risk))
    return f"{number}" + (f"; ink {a} \N{RIGHTWARDS ARROW} {b} {_unit('um')}" if a != b else "")


def _lever_legend(axes: Axes) -> None:
    Patch, Line2D = _matplotlib("patches").Patch, _matplotlib("lines").Line2D
    axes.legend(
        handles=[
            Patch(facecolor=BLUE, label="fewer scores"),
            Patch(facecolor=ORANGE, hatch="///", ec="white", label="more scores"),
            Line2D([], [], ls="", marker="D", color="white", mec="black", label="chipped walls"),
        ],
        loc="upper center",
        bbox_to_anchor=(0.5, -45.0 / float(axes.get_window_extent().height)),
        ncols=3,
    )


def _told(levers: Any) -> list[Lever]:
    if not isinstance(levers, ScoringLevers):
        raise refuse("levers", type(levers).__name__, "must come from libblade.scoring_levers")
    return [lever for lever in levers if lever.risk.convergence.ok]


def _near(ratio: float) -> float:
    return min(max(ratio, 1.0 / FURTHEST), FURTHEST) if math.isfinite(ratio) else 1.0


def describe_scoring_map(data: xr.Dataset, name: str = "scores") -> str:
    """Alt text of ``plot_scoring_map``."""
    return f"{_map_words(data, name)}{COUNTS} {STATEMENT}"


def describe_scoring_maps(everywhere: xr.Dataset, once: xr.Dataset, name: str = "scores") -> str:
    """Alt text of ``plot_scoring_maps``."""
    return (
        f"Two maps. Left, each setting run in at itself. {_map_words(everywhere, name)}Right, one blade moved to every setting "
        f"without re-bedding. {_map_words(once, name)}{COUNTS} {STATEMENT}"
    )


def _map_words(data: xr.Dataset, name: str) -> str:
    across, up = _map_dims(data)
    rate = _rate(data, name)
    spans = []
    for dim in (across, up):
        values, label = _shop(data, dim)
        spans.append(f"{label.replace(' [', ' from ' + f'{values.min():.3g} to {values.max():.3g} ').rstrip(']')}")
    text = f"Rate of {WORDS[name]} over {' and '.join(spans)}: "
    if not np.isfinite(rate).any():
        return text + "no point has a value. "
    text += f"{_per_hour(float(np.nanmin(rate)))} to {_per_hour(float(np.nanmax(rate)))}. "
    # From the lowest to the highest of the field that stands up, in the middle of the other.
    middle = data[name].transpose(up, across).values[:, data.sizes[across] // 2] * 3600.0
    text += f"In the middle, bottom to top: {_per_hour(float(middle[0]))} to {_per_hour(float(middle[-1]))}. "
    for reason, mask in failure_reasons(data, name).items():
        text += f"No value on {mask.mean():.0%}: {reason}. "
    return text


def _per_hour(rate: float) -> str:
    if math.isnan(rate):
        return "no value"
    return f"{rate:.2g} per hour" if rate >= 3600.0 / CENTURY else "less than one in a century"


def describe_entry(data: xr.Dataset) -> str:
    """Alt text of ``plot_entry``."""
    x, label = _shop(data, _only_dim(data))
    good = np.flatnonzero(np.isfinite(data.entry_size.values))
    if not good.size:
        return f"Entry size over {label}: no point has a value. {STATEMENT}"
    a, b = int(good[0]), int(good[-1])
    entry, tilt = data.entry_size.values * 1e6, np.degrees(data.facet_tilt.values)
    return (
        f"Over {label} from {x[a]:.3g} to {x[b]:.3g} the largest particle drawn in goes from {entry[a]:.2g} to {entry[b]:.2g} um "
        f"while the facet turns from {tilt[a]:+.2f} to {tilt[b]:+.2f} deg to the roll. {STATEMENT}"
    )


def describe_filter(data: xr.Dataset, names: Sequence[str] = ("scores", "chips")) -> str:
    """Alt text of ``plot_filter``."""
    x, _ = _shop(data, _only_dim(data, "loop.filter.size"))
    told = "; ".join(
        f"{WORDS[name]} from {_per_hour(_rate(data, name)[0])} to {_per_hour(_rate(data, name)[-1])}" for name in names
    )
    return f"With a filter rated at {x[0]:.3g} to {x[-1]:.3g} um: {told}. {COUNTS} {STATEMENT}"


def describe_levers(levers: ScoringLevers) -> str:
    """Alt text of ``plot_levers``: the levers that help most, and those that do harm."""
    told = [lever for lever in _told(levers) if math.isfinite(lever.score_ratio)]
    helps = [lever for lever in told if lever.score_ratio < 0.95][:3]
    harms = [lever for lever in told if lever.score_ratio > 1.05][::-1][:3]

    def words(some: Sequence[Lever]) -> str:
        return "; ".join(f"{lever.words} (times {lever.score_ratio:.2g})" for lever in some) or "none"

    lost = len(levers) - len(_told(levers))
    not_solved = f" {lost} did not solve." if lost else ""
    return f"Fewest scores first: {words(helps)}. More scores: {words(harms)}.{not_solved} {COUNTS} {STATEMENT}"
