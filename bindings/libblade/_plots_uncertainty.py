"""Pictures of what is not known exactly: a fan along a field, inputs by their weight, and how probable a setting is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._errors import refuse
from libblade._lazy import lazy
from libblade._plots import (
    BLUE,
    GREEN,
    GREY,
    LABELS,
    ORANGE,
    STATEMENT,
    _coordinate,
    _matplotlib,
    _new_axes,
    _stroke,
    _unit,
    plot_style,
)
from libblade._point import OUTPUTS
from libblade._sensitivity import Sensitivity
from libblade._uncertainty import Uncertainty
from libblade._units import Floats
from libblade._window import _display
from libblade._window_probability import WindowProbability

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
else:
    xr = lazy("xarray")

FIELD_WORDS = {
    "ink.rheology.infinite_shear_viscosity": "viscosity at high shear",
    "roll.run_out": "run-out",
    "blade.specific_wear": "wear of the blade",
    "roll.specific_wear": "wear of the roll",
}
_SHOWN = 12  # bars


def _words(path: str) -> str:
    return FIELD_WORDS.get(path, _word_of(path.rpartition(".")[2]))


def _name(output: str) -> str:
    return LABELS.get(output, OUTPUTS[output].long_name)


def _fan(data: object, name: str) -> tuple[xr.Dataset, str, str]:
    """Checked data, its one field and the key of the output."""
    if not isinstance(data, xr.Dataset) or "quantile" not in data.dims:
        raise refuse("data", type(data).__name__, "must be a dataset from libblade.uncertainty_along")
    key = f"{name}_result" if name in data.dims else name
    if key not in data.data_vars or name not in OUTPUTS:
        raise refuse("name", name, "is not in this dataset: add it to the outputs")
    fields = [str(dim) for dim in data[key].dims if dim != "quantile"]
    if len(fields) != 1:
        raise refuse("data", ", ".join(fields), "must be over one field: select one value of every other")
    return data.sortby(fields[0]), fields[0], key


def plot_fan(
    data: xr.Dataset, name: str, ax: Axes | None = None, *, log: bool = False, title: str | None = None
) -> Axes:
    """P10 to P90 of an output as a band over the field of ``uncertainty_along``, P50 as a line.

    Where less than 99 % of the samples have a value the band is hatched: it is of these alone. ``log``: output on a logarithmic
    axis.
    """
    data, dim, key = _fan(data, name)
    x, label, _ = _coordinate(data, dim)
    output = OUTPUTS[name]
    p10, p50, p90 = data[key].transpose("quantile", dim).values * output.display_scale
    lost = data[f"{key}_share"].values < 0.99
    with plot_style():
        axes = _new_axes(1, 6.2, 4.0)[0] if ax is None else ax
        axes.fill_between(x, p10, p90, color=BLUE, alpha=0.25, lw=0, label="P10 to P90: eight of ten")
        axes.plot(x, p10, color=BLUE, lw=0.8, ls="--")
        axes.plot(x, p90, color=BLUE, lw=0.8, ls="--")
        axes.plot(x, p50, color=BLUE, label="P50: one half above, one half below")
        if lost.any():
            axes.fill_between(
                x, p10, p90, where=lost, facecolor="none", edgecolor=GREY, hatch="///", lw=0,
                label="of the solved samples alone",
            )  # fmt: skip
        axes.set(xlabel=label, ylabel=f"{_name(name)} [{_unit(output.display_unit)}]", xlim=(x.min(), x.max()))
        if log:
            axes.set_yscale("log")
        else:
            axes.set_ylim(min(0.0, 1.1 * float(np.nanmin(p10))), 1.15 * float(np.nanmax(p90)))
        axes.set_title(title if title is not None else f"How sure: {_name(name)}")
        axes.legend(loc="best")
    return axes


def describe_fan(data: xr.Dataset, name: str) -> str:
    """What the fan shows, from its numbers."""
    data, dim, key = _fan(data, name)
    x, _, unit = _coordinate(data, dim)
    output = OUTPUTS[name]
    three = data[key].transpose("quantile", dim).values * output.display_scale

    def at(k: int) -> str:
        p10, p50, p90 = three[:, k]
        return f"at {x[k]:.4g} {unit} {p50:.3g} {output.display_unit}, eight of ten between {p10:.3g} and {p90:.3g}"

    least = float(data[f"{key}_share"].min())
    lost = f" At worst {least:.0%} of the samples have a value; the band is of these alone." if least < 1.0 else ""
    return f"{_name(name).capitalize()} against {_word_of(dim)}: {at(0)}; {at(-1)}.{lost} {STATEMENT}"


def _word_of(dim: str) -> str:
    return LABELS.get(dim, dim.replace("_", " "))


def plot_tornado(result: Uncertainty, name: str | None = None, ax: Axes | None = None) -> Axes:
    """Rank correlation of an output (the first, unless named) with every input, the strongest on top.

    To the right: more of the input, more of the output. Bars to the left are hatched.
    """
    name, by = _correlations(result, name)
    order = sorted(by, key=lambda path: abs(by[path]))[-_SHOWN:]
    with plot_style():
        axes = _new_axes(1, 6.2, 1.2 + 0.32 * len(order))[0] if ax is None else ax
        for k, path in enumerate(order):
            down = by[path] < 0.0
            axes.barh(
                k, by[path], 0.66, color=ORANGE if down else BLUE, hatch="///" if down else "", edgecolor="white", lw=0
            )
            side = -1.0 if down else 1.0
            axes.text(
                by[path] + 0.02 * side, k, f"{by[path]:+.2f}", ha="right" if down else "left", va="center", fontsize=8
            )
        axes.axvline(0.0, color=GREY, lw=0.8)
        axes.set_yticks(range(len(order)), [_words(path) for path in order])
        axes.set(
            xlim=(-1.2, 1.2), xlabel="rank correlation [-]\nmore of the input: less to the left, more to the right"
        )
        axes.set_title(f"{_name(name).capitalize()}:\nwhat it hangs on")
    return axes


def describe_tornado(result: Uncertainty, name: str | None = None) -> str:
    """What the bars and the quantiles say."""
    name, by = _correlations(result, name)
    output, q = OUTPUTS[name], result.quantiles[name]
    three = [f"{v * output.display_scale:.3g}" for v in q[:3]]
    first = sorted(by, key=lambda path: -abs(by[path]))[:3]
    most = ", ".join(f"{_words(path)} ({by[path]:+.2f})" for path in first)
    lost = f" of the {q.share:.1%} of the samples that have a value" if q.share < 1.0 else ""
    return (
        f"{_name(name).capitalize()}: eight of ten between {three[0]} and {three[2]} {output.display_unit}, one half below "
        f"{three[1]}{lost}. By rank correlation it hangs most on {most}. {STATEMENT}"
    )


def _correlations(result: object, name: str | None) -> tuple[str, dict[str, float]]:
    if not isinstance(result, Uncertainty):
        raise refuse("result", type(result).__name__, "must be a result of libblade.uncertainty")
    name = next(iter(result.quantiles)) if name is None else name
    if name not in result.dominant:
        told = "does not move with any input" if name in result.quantiles else "is not among the outputs"
        raise refuse("name", name, told)
    return name, result.rank_correlation[name]


def plot_sensitivity(result: Sensitivity, ax: Axes | None = None) -> Axes:
    """First and total Sobol' indices as bars with their 95 % intervals, the largest total on top."""
    order = _by_total(result)[::-1][-_SHOWN:]
    height = 0.36
    with plot_style():
        axes = _new_axes(1, 6.2, 1.4 + 0.42 * len(order))[0] if ax is None else ax
        rows = np.arange(len(order))
        for values, errors, shift, colour, hatch, word in (
            (result.total, result.total_error, 0.5, BLUE, "", "total: with all it does together with others"),
            (result.first, result.first_error, -0.5, GREEN, "///", "first: alone"),
        ):
            axes.barh(
                rows + shift * height, values[order], height, xerr=errors[order], color=colour, hatch=hatch,
                edgecolor="white", lw=0, label=word, error_kw={"elinewidth": 1.0, "capsize": 2.0, "ecolor": "#33373d"},
            )  # fmt: skip
        axes.axvline(0.0, color=GREY, lw=0.8)
        axes.set_yticks(rows, [_words(result.fields[k]) for k in order])
        axes.set(xlabel="share of the variance [-]", xlim=(min(-0.03, axes.get_xlim()[0]), None))
        axes.set_title(f"{_name(result.output).capitalize()}:\nwhat its variance hangs on")
        axes.legend(loc="lower right")
    return axes


def describe_sensitivity(result: Sensitivity) -> str:
    """What the bars of the indices say."""
    order = _by_total(result)
    sd = result.standard_deviation * OUTPUTS[result.output].display_scale
    told = "; ".join(
        f"{_words(result.fields[k])} {result.first[k]:.2f} alone and {result.total[k]:.2f} (+- {result.total_error[k]:.2f}) in all"
        for k in order[:3]
    )
    lost = result.samples - result.used
    words = (
        f" {lost} of {result.samples} blocks of samples are left out, as they are not solved throughout."
        if lost
        else ""
    )
    return (
        f"{_name(result.output).capitalize()} has a standard deviation of {sd:.3g} {OUTPUTS[result.output].display_unit}. Shares "
        f"of its variance: {told}.{words} {STATEMENT}"
    )


def _by_total(result: object) -> Any:
    if not isinstance(result, Sensitivity):
        raise refuse("result", type(result).__name__, "must be a result of libblade.sensitivity")
    if result.dominant is None:
        raise refuse("result", result.output, "does not move with any input")
    return np.argsort(-result.total, kind="stable")


def plot_probability(
    result: WindowProbability, ax: Axes | None = None, *, colorbar: bool = True, title: str | None = None
) -> Axes:
    """How probable it is that a setting keeps every limit, as filled contours over set angle and load.

    The line of the asked confidence is drawn strong; the recommended setting is a cross, filled where it reaches that.
    """
    x, x_label, y, y_label, chance = _probabilities(result)
    with plot_style():
        axes = _new_axes(1, 6.2, 4.8)[0] if ax is None else ax
        levels = np.linspace(0.0, 1.0, 11)
        filled = axes.contourf(x, y, chance, levels=levels, cmap="cividis", vmin=0.0, vmax=1.0)
        inner = [
            v
            for v in (0.1, 0.3, 0.5, 0.7, 0.9)
            if chance.min() < v < chance.max() and abs(v - result.confidence) > 0.02
        ]
        if inner:
            lines = axes.contour(x, y, chance, levels=inner, colors="white", linewidths=0.9)
            texts = axes.clabel(lines, fmt=lambda v: f"{100 * v:.0f} %", fontsize=8, colors="white")
            for text in texts:
                text.set_path_effects(_stroke("#20242a", 2.0))
        handles = []
        line_of = _matplotlib("lines").Line2D
        if chance.min() < result.confidence < chance.max():
            axes.contour(x, y, chance, levels=[result.confidence], colors=ORANGE, linewidths=2.2)
            word = f"{100 * result.confidence:.3g} % of the samples keep every limit"
            handles.append(line_of([], [], color=ORANGE, lw=2.2, label=word))
        word = "recommended: least load that does" if result.robust else "most probable; none does so surely"
        mark: dict[str, Any] = {
            "marker": "P", "ms": 11, "mec": "black", "mew": 1.4, "ls": "", "color": "white" if result.robust else "none",
        }  # fmt: skip
        angle, load = _place(result)
        axes.plot([angle], [load], clip_on=False, zorder=7, **mark)
        handles.append(line_of([], [], label=word, **mark))
        axes.set(xlabel=x_label, ylabel=y_label, xlim=(x.min(), x.max()), ylim=(y.min(), y.max()))
        axes.set_title(title if title is not None else "Probability that every limit holds")
        if colorbar:
            bar = axes.figure.colorbar(filled, ax=axes, pad=0.02, ticks=levels[::2], format="%.1f")
            bar.set_label(f"share of {result.samples} samples [-]")
        axes.legend(handles=handles, loc="upper center", bbox_to_anchor=(0.5, -0.14))
    return axes


def describe_probability(result: WindowProbability) -> str:
    """What the contours show."""
    _, _, _, _, chance = _probabilities(result)
    reached = float(np.mean(chance >= result.confidence))
    place = ", ".join(f"{_word_of(d)} {_display(result.dataset[d], v)}" for d, v in result.recommended.items())
    word = "Recommended, the least load that does" if result.robust else "No setting does; the most probable"
    limits = ", ".join(f"{_name(name)} {text}" for name, text in result.limits.items())
    return (
        f"Probability that every limit holds ({limits}), from {result.samples} samples at each setting: from {chance.min():.0%} to "
        f"{chance.max():.0%}; at least {result.confidence:.0%} on {reached:.0%} of the map. "
        f"{word}: {place}, with {result.probability:.0%}. {STATEMENT}"
    )


def _probabilities(result: object) -> tuple[Floats, str, Floats, str, Floats]:
    if not isinstance(result, WindowProbability):
        raise refuse("result", type(result).__name__, "must be a result of libblade.window_probability")
    angle, load = result.recommended
    x, x_label, _ = _coordinate(result.dataset, angle)
    y, y_label, _ = _coordinate(result.dataset, load)
    return x, x_label, y, y_label, result.dataset["probability"].transpose(load, angle).values


def _place(result: WindowProbability) -> tuple[float, float]:
    """The recommended setting in shop units."""
    at = result.dataset.sel({dim: [value] for dim, value in result.recommended.items()})
    angle, load = (float(_coordinate(at, dim)[0][0]) for dim in result.recommended)
    return angle, load
