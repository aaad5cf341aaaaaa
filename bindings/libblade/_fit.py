"""Fields of a case from what was measured, with their uncertainty."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from libblade._case import Case, require_case
from libblade._errors import NotSolved, one_of, refuse
from libblade._fit_model import WEAR, Model, first_failure, parameter
from libblade._fit_notes import unknown_directions
from libblade._fit_problem import RANGE, Problem, limits_of, priors_of
from libblade._fit_record import items_of_record
from libblade._fit_result import REACH, Fit
from libblade._fit_wear import ACCURACY, notes_of
from libblade._ink import AT_REST, WIDE, _quantile, _spread
from libblade._point import Convergence
from libblade._reading import Reading, item_of
from libblade._units import Floats

FIT_FIELDS = (WEAR,)
REACHES = (
    REACH,
    20.0,
    RANGE,
)  # a history goes so many times as far as the record, the next where the search ends there
GRID = 12  # values of k_b tried before the search, for each factor e


def fit(
    case: Case,
    data: Mapping[str, Any] | Sequence[Reading],
    fields: Sequence[str] = FIT_FIELDS,
    *,
    priors: Mapping[str, tuple[Any, float]] | None = None,
    relative_error: Any = None,
    absolute_error: Any = None,
    on_failure: str = "raise",
) -> Fit:
    """Fits fields of a case to what a pressroom can measure: by default ``blade.specific_wear`` (k_b).

    ``data``: a list of ``Reading``, of any kinds together, each with its standard error; or a record of worn blades, a dictionary
    or an xarray dataset with ``distance`` of web since the case's blade began [m] and either ``facet_length`` or ``length_lost``
    since then along the roll-facing side [m], (n,) each: SI numbers, texts with unit, arrays with units, or names that carry the
    unit (``distance_km``). ``relative_error`` [-] and ``absolute_error`` [m] are standard errors of a record's reading, one number
    or (n,), together in quadrature: they weigh the readings, and the scatter about the model replaces stated errors where that
    is larger; a record without has equal weights, the scatter alone counts, and one field can be fitted.

    ``fields``: dotted paths of numbers; in the logarithm, within a factor of 100 of the case's own value, except angles,
    temperatures and what may be negative. ``priors``: (value, factor) by path, what is known from elsewhere as one standard
    deviation in the logarithm; (value, standard error SI) for fields not in the logarithm.

    Least squares by scipy's trust region; same readings, same result. Slopes are those of implicit differentiation for solved
    points, central differences for histories and cups. At a steady setting a history depends on k_b and the distance s
    through k_b s alone (Archard's law has no other place for k_b), so that one history serves every k_b: worn area as Hermite
    cubics with its slope k_b N_a, bedded angle as monotone cubics, facet and length lost by their plane geometry. Intervals are
    value (or its logarithm) -/+ t_95 % standard errors (Gauss-Newton). What the readings cannot tell is found by singular values of
    the scaled slopes and named in ``notes``, with the reading that would settle it.

    Raises InvalidInput on bad readings and fields; NotSolved when a reading, a history or the search does not converge
    (``on_failure="flag"`` returns an unconverged search). Needs scipy: pip install "libblade[statistics]".
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    paths = (fields,) if isinstance(fields, str) else tuple(fields)
    parameters = [parameter(case, path) for path in paths]
    names = [p.field.path for p in parameters]
    if not names or len(set(names)) != len(names):
        raise refuse("fields", ", ".join(map(str, paths)), "must name at least one field, each once")
    if isinstance(data, list | tuple) and data:
        if relative_error is not None or absolute_error is not None:
            raise refuse("relative_error", "", "goes with a record: each Reading states its own error")
        items, stated = [item_of(reading, f"data[{k}]") for k, reading in enumerate(data)], True
    else:
        items, stated = items_of_record(data, relative_error, absolute_error)
        if not stated and len(names) > 1:
            raise refuse("fields", ", ".join(names), "several need stated errors of the readings")
    known = priors_of(parameters, priors)
    if len(items) + sum(len(row) > 0 for row in known) <= len(names):
        raise refuse("data", f"{len(items)} readings", f"must hold more readings than the {len(names)} fields")
    if (WEAR in names or any(item.worn for item in items)) and not case.get(WEAR, 0.0):
        raise refuse(WEAR, "0 m2/N", "must be above 0: the search begins there")
    found = _fit(case, Problem(parameters, items, known, stated))
    if not found.convergence.ok and on_failure == "raise":
        raise NotSolved(str(found.convergence), found)
    return found


def _search(case: Case, problem: Problem) -> tuple[Model, Any, Floats, Floats]:
    """The model, scipy's result and the limits of u."""
    try:
        from scipy.optimize import least_squares  # noqa: PLC0415 -- slow to import
    except ImportError as missing:
        raise ImportError('fitting needs scipy: pip install "libblade[statistics]"') from missing
    p, wear = len(problem.parameters), problem.wear
    y, error, (rows, aims) = problem.measured, problem.error, problem.besides
    for reach in REACHES if wear is not None else (1.0,):
        model = Model(case, problem.parameters, problem.items, reach)
        low, high = np.array([limits_of(q, reach) for q in problem.parameters]).T
        start, ends = np.clip(np.zeros(p), low + 1e-6, high - 1e-6), (low, high)
        if wear is not None:
            start[wear] = _begin(model, wear, start, (low[wear], high[wear]), problem)
            if p == 1:
                ends = np.maximum(start - 2.0 / GRID, low), np.minimum(start + 2.0 / GRID, high)
            start = np.clip(start, low + 1e-6, high - 1e-6)
        first_failure(model, start)

        def residuals(u: Floats, model: Model = model) -> Floats:
            return np.concatenate([(model.at(u)[0] - y) / error, rows @ u - aims])

        def slopes(u: Floats, model: Model = model) -> Floats:
            return np.concatenate([model.at(u)[1] / error[:, None], rows])

        # A history's cubics are smooth in k_b, solved points to 1e-9 or so, histories compared less than either.
        least = (1e-15 if p == 1 else 1e-7) if model.worn else 1e-10
        found: Any = None
        for offset in (
            0.0 * start,
            *(() if model.worn else (sign * row for row in 0.3 * np.eye(p) for sign in (1, -1))),
        ):
            begun = np.clip(start + offset, low + 1e-6, high - 1e-6)
            if found is not None and (_at_rest(found, low, high) or not np.isfinite(model.at(begun)[0]).all()):
                continue
            another = least_squares(
                residuals,
                begun,
                jac=slopes,
                bounds=ends,
                x_scale="jac",
                ftol=least,
                xtol=least,
                gtol=least,
                max_nfev=200,
            )
            found = another if found is None or another.cost < found.cost else found
        if wear is None or found.x[wear] < high[wear] - 0.2:
            break
    return model, found, low, high


def _at_rest(found: Any, low: Floats, high: Floats) -> bool:
    """Whether the least squares are nearer than AT_REST standard errors; not where a reading jumps between two states."""
    inner = np.minimum(found.x - low, high - found.x) >= 0.01
    return bool(np.max(np.abs(_spread(found.jac).T @ np.where(inner, found.jac.T @ found.fun, 0.0))) <= AT_REST)


def _fit(case: Case, problem: Problem) -> Fit:
    model, found, low, high = _search(case, problem)
    parameters, items, wear, freedom = problem.parameters, problem.items, problem.wear, problem.freedom
    y, p, u = problem.measured, len(parameters), found.x
    value, by = model.at(u)
    priors = freedom + p - y.size
    chi = float(np.linalg.norm(found.fun[: y.size + priors])) / math.sqrt(freedom)
    kinds = np.array([item.kind for item in items])
    coarse = np.array([ACCURACY if item.worn else 1e-12 for item in items]) * [y[kinds == kind].max() for kind in kinds]
    reading_error = np.maximum(problem.error * (max(chi, 1.0) if problem.stated else chi), coarse)
    by_reading = by / reading_error[:, None]
    jacobian = np.concatenate([by_reading, problem.besides[0]])
    seen = float(np.linalg.norm(jacobian)) > 0.0
    spread = _spread(jacobian) if seen else 1e15 * np.eye(p)
    in_u, quantile = np.linalg.norm(spread, axis=1), _quantile(freedom)
    half = quantile * in_u
    if wear is not None:  # the end of a history is no limit
        high[wear] = math.log(RANGE)
    at_limit = np.minimum(u - low, high - u) < 0.01
    base = problem.error if problem.stated else reading_error  # priors weigh against errors as stated
    weighed = np.concatenate([by / base[:, None], problem.besides[0]])
    gradient = weighed.T @ np.concatenate([(value - y) / base, found.fun[y.size :]])
    left = float(np.max(np.abs(_spread(weighed).T @ np.where(at_limit, 0.0, gradient)))) if seen else 0.0
    ended = "converged" if left <= AT_REST else "stagnated"
    words = (
        "" if ended == "converged" else "the least squares were not found; a reading may jump between two states there"
    )
    for rows in model.worn.values():
        curve, ln_k = model.curve(rows, u)
        if curve.stopped and max(items[k].distance for k in rows) * math.exp(ln_k) > curve.end:
            ended, words = "out_of_range", f"the history ends within the record: {curve.stopped}"
    own = np.array([1.0 if q.log else q.scale for q in parameters])
    values, lower, upper = (
        np.array([q.value(x) for q, x in zip(parameters, at, strict=True)]) for at in (u, u - half, u + half)
    )
    core = case._core.copy()
    for q, x in zip(parameters, values, strict=True):
        core.set_number(q.field.path, float(x))
    fields = tuple(model.paths)
    wide = (half > math.log(WIDE)) | at_limit
    out = Fit(
        fields=fields,
        values=values,
        covariance=own[:, None] * (spread @ spread.T) * own,
        standard_error=own * in_u,
        lower=lower,
        upper=upper,
        undetermined=tuple(itertools.compress(fields, wide)),
        unknown=unknown_directions(model, u, by_reading, quantile) if p > 1 else (),
        notes=(),
        readings=tuple(item.reading for item in items),
        measured=y,
        reading_error=reading_error,
        residuals=value - y,
        scatter=chi,
        degrees_of_freedom=freedom,
        in_log=tuple(q.log for q in parameters),
        convergence=Convergence(ended, left, AT_REST, int(found.nfev), words),
        case=Case._wrap(core),
    )
    return replace(out, notes=tuple(_notes(out, model, u, at_limit, half, stated=problem.stated)))


def _begin(model: Model, j: int, start: Floats, limits: tuple[float, float], problem: Problem) -> float:
    """The best k_b of a grid for the worn readings, u of the others kept."""
    tried = np.arange(*limits, 1.0 / GRID)
    cost, y, error = np.zeros(tried.size), problem.measured, problem.error
    for rows in model.worn.values():
        curve, ln_k = model.curve(rows, start)
        s = np.array([model.items[k].distance for k in rows])
        cost += [np.sum(((curve.at(s, ln_k - start[j] + u) - y[rows]) / error[rows]) ** 2) for u in tried]
    return float(tried[np.argmin(cost)])


def _notes(
    fitted: Fit, model: Model, u: Floats, at_limit: npt.NDArray[np.bool_], half: Floats, *, stated: bool
) -> Iterator[str]:
    """What the readings can and cannot say."""
    told = {name for unknown in fitted.unknown for name in unknown.fields if len(unknown.fields) > 1}
    for name, ended, wide, log in zip(fitted.fields, at_limit, half > math.log(WIDE), fitted.in_log, strict=True):
        how = "a factor of 3 either way" if log else "its usual range"
        if ended or (wide and name not in told):
            known = "the search ended at its limit" if ended else f"its interval is wider than {how}"
            yield f"{name} is not determined: {known}"
    for unknown in fitted.unknown:
        yield from (unknown.words, unknown.remedy)
        if not set(unknown.fields) & set(fitted.undetermined):
            yield f"{', '.join(unknown.fields)}: known from the priors, not from the readings"
    for rows in model.worn.values():
        curve, ln_k = model.curve(rows, u)
        yield from notes_of(curve, np.array([model.items[k].distance for k in rows]), ln_k)
    if stated and fitted.scatter**2 * fitted.degrees_of_freedom > _largest(fitted.degrees_of_freedom):
        yield f"the readings scatter {fitted.scatter:.2g} times as much as their stated error: the case may not be theirs"
    if model.worn and WEAR in fitted.fields and "setting.line_load" not in fitted.fields:
        yield (
            "only the product of blade.specific_wear and touching load is seen: a line load that is wrong by a share makes the "
            "value wrong by about as much, beyond the interval"
        )


def _largest(freedom: int) -> float:
    from scipy.special import chdtri  # noqa: PLC0415 -- slow to import

    return float(chdtri(freedom, 0.01))
