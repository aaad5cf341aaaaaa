"""Operating points for arrays of values, and a case as a plain function of numbers for optimisers, samplers and fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import NotSolved, one_of, refuse
from libblade._fields import FIELDS, Field, find
from libblade._lazy import lazy
from libblade._point import OUTPUTS, STATUSES, _Same, solve
from libblade._progress import Progress, reporting
from libblade._units import Floats, field_value, gather, is_quantity, resolve

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

_GROUPS = tuple(dict.fromkeys(path.rpartition(".")[0] for path in FIELDS))
_CONVERGED = tuple(STATUSES).index("converged")


@dataclass(frozen=True)
class _Input:
    """A field with the unit in which its numbers come."""

    given: str
    field: Field
    unit: str

    @property
    def scale(self) -> float:
        """d(SI) / d(number). Raises InvalidInput on an angle without its unit."""
        zero, one = self.to_si(np.array([0.0, 1.0]))
        return float(one - zero)

    def to_si(self, values: Floats) -> Floats:
        column = _core.column_to_si(values.ravel(), self.unit, self.field.path, self.given)
        return np.asarray(column).reshape(values.shape)

    def from_si(self, value: float) -> float:
        return float(_core.field_from_si(value, self.unit, self.field.path)) if self.unit else value


def _input(name: str) -> _Input:
    """Raises InvalidInput on an unknown name and on a choice."""
    field, unit = resolve(name) if "." in name else _by_last_word(name)
    if field.kind != "number":
        raise refuse(name, "", "is a choice: take one case for each choice")
    return _Input(name, field, unit)


def _by_last_word(name: str) -> tuple[Field, str]:
    """``line_load`` is setting.line_load: the one field that ends so."""
    found = [pair for group in _GROUPS if (pair := find(f"{group}.{name}")) is not None]
    if not found:
        return resolve(name)
    if len(found) > 1:
        raise refuse(name, "", "may be " + " or ".join(field.path for field, _ in found) + ": write the whole path")
    return found[0]


def _names(outputs: str | Sequence[str]) -> tuple[str, ...]:
    names = (outputs,) if isinstance(outputs, str) else tuple(outputs)
    if not names:
        raise refuse("outputs", outputs, "must name at least one output")
    gather(
        [("outputs", str(name), "is no numeric output; see output_table()") for name in names if name not in OUTPUTS]
    )
    return names


def _rows(
    case: Case, paths: list[str], names: tuple[str, ...], values: Floats, *, slopes: bool, start: str, mesh: int,
    threads: int, progress: Progress = False,
) -> tuple[Floats, npt.NDArray[np.int8], Floats, npt.NDArray[np.bool_]]:  # fmt: skip
    if isinstance(threads, bool) or not isinstance(threads, int) or threads < 0:
        raise refuse("threads", threads, "must be a whole number, 0 for one thread per core")
    options = _core.NipOptions(riding=start == "riding", mesh=mesh)
    rows = np.ascontiguousarray(values, dtype=float).reshape(-1)
    with reporting(progress) as report:
        *columns, error = _core.evaluate(case._core, paths, list(names), rows, slopes, options, threads, report)
    if error is not None:
        raise error
    return tuple(columns)


def _numeric(value: Any, item: _Input) -> Floats:
    """An argument as SI numbers of any shape."""
    if isinstance(value, str) or (is_quantity(value) and np.ndim(value.magnitude) == 0):
        return np.asarray(field_value(value, item.field, item.unit, item.given), dtype=float)
    if is_quantity(value):
        flat = [field_value(v, item.field, item.unit, item.given) for v in np.ravel(value)]
        return np.asarray(flat, dtype=float).reshape(value.shape)
    array = np.asarray(value)
    if array.dtype.kind not in "iuf":
        raise refuse(item.given, value, "must be numbers, a text with unit or a quantity")
    return item.to_si(array.astype(float))


def evaluate(
    case: Case,
    outputs: str | Sequence[str],
    *,
    threads: int = 0,
    progress: Progress = False,
    on_failure: str = "flag",
    start: str = "resting",
    mesh: int = 1,
    **fields: Any,
) -> Any:
    """Outputs for arrays of values that broadcast against each other as NumPy's do; no grid is made of them.

    ``fields`` are keywords: the last word of a path where one field alone ends so, with or without a unit
    (``line_load=array``, ``set_angle_deg=array``), or whole paths (``**{"tip.bedded_angle_deg": array}``). Values are SI numbers
    or in the unit of the name, texts with unit, quantities. Arrays of xarray broadcast by their dimensions; the others must
    then be single values.

    One output's name gives an array of the common shape, several a dict of them; with arrays of xarray DataArrays with their
    units. SI. A point that is not solved is NaN, or NotSolved is raised with ``on_failure="raise"``.

    Raises InvalidInput on unknown names, values that are no numbers, and shapes that do not broadcast.
    """
    require_case(case)
    names = _names(outputs)
    one_of("on_failure", on_failure, ("raise", "flag"))
    one_of("start", start, ("resting", "riding"))
    if not fields:
        raise refuse("fields", "none", "at least one field must be given")
    items = [_input(name) for name in fields]
    labelled = [value for value in fields.values() if isinstance(value, xr.DataArray)]
    frame = None
    if labelled:
        for item, value in zip(items, fields.values(), strict=True):
            if not isinstance(value, xr.DataArray) and np.ndim(value) > 0:
                raise refuse(item.given, "an array", "must have named dimensions or be one value, as others have names")
        frame = xr.broadcast(*labelled)[0]
        whole = dict(zip((id(value) for value in labelled), xr.broadcast(*labelled), strict=True))
        given = [whole[id(v)].values if isinstance(v, xr.DataArray) else v for v in fields.values()]
    else:
        given = list(fields.values())
    arrays = [_numeric(value, item) for value, item in zip(given, items, strict=True)]
    try:
        values = np.stack([array.ravel() for array in np.broadcast_arrays(*arrays)], axis=-1)
    except ValueError as error:
        raise refuse("fields", ", ".join(str(a.shape) for a in arrays), "have shapes that do not broadcast") from error
    shape = np.broadcast_shapes(*(array.shape for array in arrays))
    paths = [item.field.path for item in items]
    numbers, status, _, _ = _rows(
        case, paths, names, values, slopes=False, start=start, mesh=mesh, threads=threads, progress=progress
    )
    failed = np.flatnonzero(status != _CONVERGED)
    if failed.size and on_failure == "raise":
        _raise_failure(case, paths, values[failed[0]], start)

    def column(k: int) -> Any:
        array = numbers[:, k].reshape(shape)
        if frame is None:
            return array
        output = OUTPUTS[names[k]]
        return xr.DataArray(
            array, frame.coords, frame.dims, names[k], {"units": output.unit, "long_name": output.long_name}
        )

    return column(0) if isinstance(outputs, str) else {name: column(k) for k, name in enumerate(names)}


def _raise_failure(case: Case, paths: list[str], row: Floats, start: str) -> None:
    """Solves the row again for its reason."""
    told = ", ".join(f"{path} = {FIELDS[path].text(float(value))}" for path, value in zip(paths, row, strict=True))
    trial = case._core.copy()
    for path, value in zip(paths, row, strict=True):
        trial.set_number(path, float(value))
    point = solve(Case._wrap(trial), start=start, on_failure="flag", step_response=False, other_branch=False)
    raise NotSolved(f"not solved at {told} ({point.convergence})", point)


@dataclass(frozen=True, eq=False)
class NipFunction(_Same):
    """A case as a function of a few numbers. Call it with x of shape (k,) or (n, k).

    The shapes are those that general-purpose libraries expect: ``scipy.optimize`` (``f(x)``, ``jac(x)``, ``value_and_jacobian``
    with ``jac=True``), SALib (``problem``, ``f(X)`` of many rows), emcee (``f(X)`` vectorised) and pymoo (``f(X)`` as its F).
    """

    case: Case
    inputs: tuple[str, ...]
    """As given: a number of x is in the unit that ends the name, else SI."""
    outputs: tuple[str, ...]
    single: bool
    """Values of one output are (n,) or a float, not (n, 1)."""
    bounds: Floats
    """Low and high of every number of x, (k, 2), in its unit."""
    start: str = "resting"
    mesh: int = 1
    threads: int = 0

    @property
    def names(self) -> list[str]:
        """Dotted paths of the inputs."""
        return [item.field.path for item in self._items]

    @property
    def problem(self) -> dict[str, Any]:
        """``num_vars``, ``names``, ``bounds``: how SALib is told of a function."""
        return {"num_vars": len(self.inputs), "names": list(self.inputs), "bounds": self.bounds.tolist()}

    def __call__(self, x: Any) -> Any:
        """Outputs, SI; NaN where a point is not solved. (k,) gives (m,) or a float, (n, k) gives (n, m) or (n,)."""
        values, _, _, _ = self._solve(x, slopes=False)
        return self._shaped(values, x)

    def value_and_jacobian(self, x: Any) -> tuple[Any, Any]:
        """Outputs as ``f(x)`` gives them, and d(output)/d(x) by implicit differentiation: (k,) gives (m, k) or, for a single
        output, (k,); (n, k) gives (n, m, k) or (n, k). At a corner of an output the slope is that towards larger x; see
        ``corners``. Outputs of the step response and of the run-out have none: NaN. Slopes by an engraving's screen and wall width
        are good to a few tenths only: the mesh of the cell problem shows in them."""
        values, _, slopes, _ = self._solve(x, slopes=True)
        return self._shaped(values, x), self._shaped(slopes, x)

    def jac(self, x: Any) -> Any:
        """The slopes alone."""
        return self.value_and_jacobian(x)[1]

    def corners(self, x: Any) -> npt.NDArray[np.bool_]:
        """Whether some output has a corner by a number of x there, (k,) or (n, k): its slope is one-sided."""
        corners: npt.NDArray[np.bool_] = self._solve(x, slopes=True)[3]
        return np.asarray(corners[0]) if np.ndim(x) == 1 else corners

    def solved(self, x: Any) -> Any:
        """Whether the points are solved, a truth or (n,)."""
        good = self._solve(x, slopes=False)[1] == _CONVERGED
        return bool(good[0]) if np.ndim(x) == 1 else good

    @property
    def _items(self) -> list[_Input]:
        return [_input(name) for name in self.inputs]

    def _solve(self, x: Any, *, slopes: bool) -> Any:
        rows = np.atleast_2d(np.asarray(x, dtype=float))
        if rows.ndim != 2 or rows.shape[1] != len(self.inputs):
            raise refuse("x", np.shape(x), f"must have the shape ({len(self.inputs)},) or (n, {len(self.inputs)})")
        items = self._items
        si = np.stack([item.to_si(rows[:, k]) for k, item in enumerate(items)], axis=-1)
        paths = [item.field.path for item in items]
        numbers, status, by, corners = _rows(
            self.case, paths, self.outputs, si, slopes=slopes, start=self.start, mesh=self.mesh, threads=self.threads
        )
        if slopes:
            by = by * np.array([item.scale for item in items])
        return numbers, status, by, corners

    def _shaped(self, array: Floats, x: Any) -> Any:
        if self.single:
            array = array[:, 0]
        if np.ndim(x) == 1:
            return float(array[0]) if array.ndim == 1 else array[0]
        return array


def as_function(
    case: Case,
    inputs: Sequence[str] | Mapping[str, tuple[float, float]],
    outputs: str | Sequence[str],
    *,
    start: str = "resting",
    mesh: int = 1,
    threads: int = 0,
) -> NipFunction:
    """The case as a function of the named fields, with bounds, names, values and Jacobian.

    ``inputs`` are dotted paths, or last words where one field alone ends so; a unit may end a name and then counts for the
    numbers and the bounds (``"setting.set_angle_deg"``). A mapping states ``(low, high)`` of each; else the usual range of the
    field is taken. ``outputs``: one name gives a scalar function.

    Raises InvalidInput on names that are unknown or choices, angles without unit, and ends that are no range.
    """
    require_case(case)
    one_of("start", start, ("resting", "riding"))
    if isinstance(inputs, str) or not inputs:
        raise refuse("inputs", inputs, "must be a list of field names, or map them to (low, high)")
    items = [_input(name) for name in inputs]
    bounds = []
    for item in items:
        _ = item.scale  # numbers of x can be told
        ends = inputs[item.given] if isinstance(inputs, Mapping) else None
        low, high = (item.from_si(v) for v in item.field.usual_range) if ends is None else (float(v) for v in ends)
        if not low < high:
            raise refuse(item.given, (low, high), "must be (low, high) with low below high")
        bounds.append((low, high))
    return NipFunction(
        case, tuple(inputs), _names(outputs), isinstance(outputs, str), np.array(bounds), start, mesh, threads
    )
