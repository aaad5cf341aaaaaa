"""Grids: dimensions, attributes, threads, failure, interruption."""

import concurrent.futures
import json
import re
import warnings
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import libblade as lb
from libblade import _point

ANGLES = np.linspace(26.0, 36.0, 5)
LOADS = np.array([60.0, 100.0, 180.0])
FIELDS = {"setting.set_angle_deg": ANGLES, "setting.line_load": LOADS}


@pytest.fixture(scope="module")
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def grid(case) -> xr.Dataset:
    return lb.sweep(case, FIELDS)


def test_dimensions_are_the_swept_fields_in_si(grid):
    assert dict(grid.sizes) == {"set_angle": 5, "line_load": 3}
    assert np.allclose(grid.set_angle, np.radians(ANGLES), rtol=1e-15)
    assert grid.set_angle.attrs["units"] == "rad"
    assert grid.set_angle.attrs["display_units"] == "deg"
    assert grid.set_angle.attrs["field"] == "setting.set_angle"
    assert grid.set_angle.attrs["long_name"]


def test_every_variable_has_units_and_a_name(grid):
    for name, variable in grid.variables.items():
        assert variable.attrs["units"], name
        assert variable.attrs["long_name"], name
    outputs = {output.name for output in lb.output_table()} - {"line_load"} | {"line_load_result"}
    assert outputs <= set(grid.data_vars)


def test_flags_carry_their_meanings(grid):
    for name in ("regime", "branch", "status"):
        variable = grid[name]
        assert np.issubdtype(variable.dtype, np.integer)
        assert len(variable.attrs["flag_values"]) == len(variable.attrs["flag_meanings"].split())
        assert variable.isin(variable.attrs["flag_values"]).all()


def test_a_grid_point_is_the_point(case, grid):
    there = grid.sel(line_load=100.0).isel(set_angle=2)
    point = lb.solve(case.replace({"setting.set_angle_deg": ANGLES[2], "setting.line_load": 100.0}))
    for output in lb.output_table():
        name = "line_load_result" if output.name == "line_load" else output.name
        assert float(there[name]) == getattr(point, output.name), name
    assert grid.regime.attrs["flag_meanings"].split()[int(there.regime)] == point.regime


def test_the_output_with_the_name_of_a_field_is_the_result(grid):
    assert np.allclose(grid.line_load_result, grid.line_load.broadcast_like(grid.line_load_result), rtol=1e-9)


def test_threads_give_identical_bits(case, grid):
    for threads in (1, 2, 5):
        assert lb.sweep(case, FIELDS, threads=threads).identical(grid)


def test_an_executor_gives_identical_bits(case, grid):
    with concurrent.futures.ThreadPoolExecutor(2) as executor:
        assert lb.sweep(case, FIELDS, executor=executor).identical(grid)


def test_attributes_tell_where_it_comes_from(case, grid):
    assert lb.Case.from_json(grid.attrs["case"]) == case
    assert json.loads(grid.attrs["options"])["start"] == "resting"
    assert grid.attrs["libblade_version"] == lb.__version__


def test_values_come_in_every_dress(case, grid):
    angles = [f"{angle} deg" for angle in ANGLES]
    loads = xr.DataArray(LOADS * 1e-3, dims="n", attrs={"units": "N/mm"})
    other = lb.sweep(case, {"setting.set_angle": angles, "setting.line_load": loads}, outputs=["film_on_lands"])
    assert np.allclose(other.film_on_lands, grid.film_on_lands, rtol=1e-9)
    pint = pytest.importorskip("pint")
    unit = pint.UnitRegistry()
    third = lb.sweep(
        case, {"setting.set_angle": ANGLES * unit.degree, "setting.line_load": LOADS}, outputs=["film_on_lands"]
    )
    assert np.allclose(third.film_on_lands, grid.film_on_lands, rtol=1e-9)


DRESSES = {
    "suffix deg": lambda: {"setting.set_angle_deg": ANGLES},
    "suffix rad": lambda: {"setting.set_angle_rad": np.radians(ANGLES)},
    "texts": lambda: {"setting.set_angle": [f"{angle!r} deg" for angle in ANGLES.tolist()]},
    "array of texts": lambda: {"setting.set_angle": np.array([f"{angle!r} deg" for angle in ANGLES.tolist()])},
    "texts of both kinds": lambda: {
        "setting.set_angle": ["26 deg", f"{float(np.radians(28.5))!r} rad", "31 deg", "33.5deg", "36 deg"]
    },
    "units deg": lambda: {"setting.set_angle": xr.DataArray(ANGLES, dims="n", attrs={"units": "deg"})},
    "units rad": lambda: {"setting.set_angle": xr.DataArray(np.radians(ANGLES), dims="n", attrs={"units": "rad"})},
    "pint": lambda: {"setting.set_angle": quantity(ANGLES, "degree")},
    "list of pint": lambda: {"setting.set_angle": [quantity(angle, "degree") for angle in ANGLES]},
    "xarray around pint": lambda: {"setting.set_angle": xr.DataArray(quantity(ANGLES, "degree"), dims="n")},
}


def quantity(value, unit):
    return pytest.importorskip("pint").UnitRegistry().Quantity(value, unit)


@pytest.mark.parametrize("dress", DRESSES)
def test_angles_come_in_every_dress(case, dress):
    angles = lb.sweep(case, DRESSES[dress](), outputs=["film_on_lands"]).set_angle
    assert np.allclose(angles, np.radians(ANGLES), rtol=1e-14)


@pytest.mark.parametrize(
    "angles",
    [
        np.radians(ANGLES),
        list(np.radians(ANGLES)),
        tuple(np.radians(ANGLES)),
        range(1, 2),
        xr.DataArray(np.radians(ANGLES), dims="n"),
    ],
    ids=["array", "list", "tuple", "range", "xarray"],
)
def test_bare_angles_are_refused_with_the_ways_to_write_them(case, angles):
    with pytest.raises(lb.InvalidInput, match="rad") as error:
        lb.sweep(case, {"setting.set_angle": angles})
    assert [problem.path for problem in error.value.problems] == ["setting.set_angle"]


def test_wrong_units_are_refused(case):
    for bad in (["28 mm"], xr.DataArray([1.0], dims="n", attrs={"units": "m"}), quantity([1.0], "meter")):
        with pytest.raises(lb.InvalidInput, match=r"setting\.set_angle"):
            lb.sweep(case, {"setting.set_angle": bad})


def test_units_twice_are_refused(case):
    for twice in (["28 deg"], xr.DataArray([28.0], dims="n", attrs={"units": "deg"}), quantity([28.0], "degree")):
        with pytest.raises(lb.InvalidInput, match="already"):
            lb.sweep(case, {"setting.set_angle_deg": twice})


def test_swept_coordinates_can_be_swept_again(case, grid):
    again = lb.sweep(case, {"setting.set_angle": grid.set_angle, "setting.line_load": grid.line_load})
    assert again.identical(grid)


def test_chosen_outputs_have_the_same_bits(case, grid):
    some = ["film_on_lands", "peak_pressure", "regime"]
    few = lb.sweep(case, FIELDS, outputs=some)
    for name in some:
        assert few[name].identical(grid[name]), name


def test_an_unknown_output_is_refused_with_the_nearest(case):
    with pytest.raises(lb.InvalidInput, match="the nearest is film_on_lands") as error:
        lb.sweep(case, FIELDS, outputs=["film_on_land", "regime", "xyzzy"])
    assert [problem.value for problem in error.value.problems] == ["film_on_land", "xyzzy"]
    assert "output_table" in error.value.problems[1].message


def test_an_unknown_field_is_refused_with_the_nearest(case):
    with pytest.raises(lb.InvalidInput, match=r"the nearest is setting\.line_load"):
        lb.sweep(case, {"setting.line_laod": [100.0]})


def test_outputs_can_be_chosen(case):
    few = lb.sweep(case, FIELDS, outputs=["film_on_lands", "regime"])
    assert set(few.data_vars) == {"film_on_lands", "regime", "status", "reason"}
    options = json.loads(few.attrs["options"])
    assert not options["step_response"]
    assert not options["other_branch"]


def test_one_field_makes_a_line(case):
    line = lb.sweep(case, {"ink.temperature": ["20 degC", "25 degC"]}, outputs=["film_on_lands"])
    assert line.temperature.values == pytest.approx([293.15, 298.15])


def test_equal_last_words_take_the_whole_path(case):
    fields = {"blade.material.hardness": ["5 GPa", "6 GPa"], "roll.material.hardness": ["12 GPa"]}
    both = lb.sweep(case, fields, outputs=["film_on_lands"])
    assert both.film_on_lands.dims == ("blade_material_hardness", "roll_material_hardness")


@pytest.fixture(scope="module")
def thin(case) -> lb.Case:
    """Lies flat under the higher loads."""
    with pytest.warns(lb.LibbladeWarning):
        return case.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm"})


@pytest.fixture(scope="module")
def partly(thin) -> xr.Dataset:
    return lb.sweep(thin, {"setting.line_load": [20.0, 300.0]})


def test_a_failed_point_is_nan_with_its_reason(partly):
    words = partly.status.attrs["flag_meanings"].split()
    bad = partly.sel(line_load=300.0)
    assert words[int(bad.status)] == "lying_flat"
    assert str(bad.reason.values)
    assert all(np.isnan(float(bad[output.name])) for output in lb.output_table() if output.name in bad.data_vars)


def test_failure_can_raise(thin):
    fields = {"setting.set_angle_deg": [28.0, 30.0], "setting.line_load": [20.0, 300.0]}
    with pytest.raises(lb.NotSolved, match=r"point \[0, 1\] is not solved, at set_angle = 0\.488692 rad") as error:
        lb.sweep(thin, fields, on_failure="raise")
    assert "line_load = 300 N/m: lying_flat (" in str(error.value)
    result = error.value.result
    assert float(result.film_on_lands[0, 0]) == float(lb.sweep(thin, fields).film_on_lands[0, 0])


# Good ones, one that fails, many good ones, more that fail.
LOADS_WITH_FAILURES = [
    *np.linspace(10.0, 13.0, 30),
    300.0,
    *np.linspace(14.0, 16.0, 1000),
    310.0,
    *np.linspace(400, 401, 9),
]


def told_failure(thin, **options) -> tuple[str, int]:
    """What is said, and how many points were solved until then."""
    fields = {"setting.line_load": LOADS_WITH_FAILURES}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", lb.LibbladeWarning)  # unusual loads
        with pytest.raises(lb.NotSolved) as error:
            lb.sweep(thin, fields, outputs=["film_on_lands"], on_failure="raise", **options)
    return str(error.value), int((error.value.result.status != 0).sum())


@pytest.mark.parametrize("threads", [1, 2, 5])
def test_a_failure_ends_the_sweep_at_once_and_is_the_first(thin, threads):
    story, solved = told_failure(thin, threads=threads)
    assert story.startswith("point [30] is not solved, at line_load = 300 N/m: lying_flat (")
    assert 31 <= solved < 1000


def test_a_failure_ends_the_sweep_of_an_executor_too(thin):
    with concurrent.futures.ThreadPoolExecutor(2) as executor:
        story, solved = told_failure(thin, executor=executor)
    assert (story, solved < 1000) == (told_failure(thin)[0], True)


class Backwards(concurrent.futures.Executor):
    """Does what it was given last first, when somebody waits for the first."""

    def __init__(self):
        self.given = []

    def submit(self, function, /, *arguments):
        self.given.append((concurrent.futures.Future(), function, arguments))
        return self.given[-1][0]

    def work(self, futures, *_):
        future, function, arguments = self.given.pop()
        if not future.cancelled():
            future.set_result(function(*arguments))
        return {future} & futures, futures - {future}


def test_the_first_failure_is_named_whatever_the_order(thin, monkeypatch):
    executor = Backwards()
    monkeypatch.setattr(concurrent.futures, "wait", executor.work)
    story, solved = told_failure(thin, executor=executor)
    assert story.startswith("point [30] is not solved")
    assert solved == len(LOADS_WITH_FAILURES)  # it had to, in this order


def test_a_sweep_without_failure_does_not_raise(case, grid):
    assert lb.sweep(case, FIELDS, on_failure="raise").identical(grid)


def test_every_flag_of_the_core_has_its_bit():
    text = "".join(
        file.read_text(encoding="utf-8") for file in (Path(__file__).parents[2] / "libblade" / "src").glob("*.cpp")
    )
    by_function = re.findall(r'\bflag\(\s*out,\s*"(\w+)"', text)
    by_hand = re.findall(r'\bvalidity\.(?:push|emplace)_back\(\s*\{?\s*"(\w+)"', text)
    assert len(by_function) + len(by_hand) == len(re.findall(r"\bflag\(\s*out,|\bvalidity\.\w+_back\(", text)) - 1
    assert set(by_function + by_hand) == set(_point.VALIDITY)
    assert len(_point.VALIDITY) == len(set(_point.VALIDITY)) < 31  # bits of an int32


def test_a_bit_means_the_same_in_every_dataset(case, grid, partly):
    other = lb.sweep(case, {"ink.air_fraction": [0.0, 0.02], "setting.line_load": [100.0, 400.0]})
    assert set(np.unique(other.validity)) != set(np.unique(grid.validity))  # other flags are raised
    for data in (other, partly, lb.sweep(case, FIELDS, outputs=["validity"])):
        assert data.validity.attrs["flag_meanings"] == grid.validity.attrs["flag_meanings"]
        assert np.array_equal(data.validity.attrs["flag_masks"], grid.validity.attrs["flag_masks"])
    bits = dict(zip(grid.validity.flag_meanings.split(), grid.validity.flag_masks.tolist(), strict=True))
    assert list(bits.values()) == [1 << k for k in range(len(bits))]
    for place in (
        {"air_fraction": 0, "line_load": 0},
        {"air_fraction": 0, "line_load": 1},
        {"air_fraction": 1, "line_load": 1},
    ):
        there = other.isel(place)
        point = lb.solve(
            case.replace({"ink.air_fraction": float(there.air_fraction), "setting.line_load": float(there.line_load)})
        )
        assert int(there.validity) == sum(bits[flag.name] for flag in point.validity)


def test_a_dataset_goes_through_a_file(grid, tmp_path):
    pytest.importorskip("h5netcdf")
    path = tmp_path / "grid.nc"
    grid.to_netcdf(path, engine="h5netcdf")
    with xr.open_dataset(path, engine="h5netcdf") as again:
        for name in ("film_on_lands", "status", "regime", "bedded_stable"):
            assert np.array_equal(again[name], grid[name]), name
        assert again.status.attrs["flag_meanings"] == grid.status.attrs["flag_meanings"]
        assert again.attrs["case"] == grid.attrs["case"]


def test_progress_is_told_from_the_calling_thread(case):
    seen = []
    lb.sweep(case, FIELDS, outputs=["film_on_lands"], progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (15, 15)
    assert all(total == 15 and 0 <= done <= 15 for done, total in seen)


def test_an_error_in_progress_stops_the_sweep(case):
    def stop(done, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        lb.sweep(case, {"setting.set_angle_deg": np.linspace(24, 40, 200), "setting.line_load": LOADS}, progress=stop)


def test_unusual_ends_warn(case):
    with pytest.warns(lb.LibbladeWarning, match=r"setting\.line_load = 700"):
        lb.sweep(case, {"setting.line_load": [100.0, 700.0]}, outputs=["film_on_lands"])


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({}, "fields"),
        ({"setting.set_angel": [1.0]}, "setting.set_angel"),
        ({"setting.set_angle": [30.0]}, "setting.set_angle"),
        ({"setting.line_load": []}, "setting.line_load"),
        ({"setting.line_load": 100.0}, "setting.line_load"),
        ({"setting.line_load": "100 N/m"}, "setting.line_load"),
        ({"setting.line_load": [100.0, float("nan")]}, "setting.line_load"),
        ({"setting.line_load": [100.0, 100.0]}, "setting.line_load"),
        ({"setting.line_load": [-5.0]}, "setting.line_load"),
        ({"setting.line_load": np.ones((2, 2))}, "setting.line_load"),
        ({"setting.line_load": np.array([True])}, "setting.line_load"),
        ({"setting.line_load": np.array([100.0 + 1j])}, "setting.line_load"),
        ({"setting.line_load": np.array([["100 N/m"]])}, "setting.line_load"),
        ({"setting.line_load": [[100.0], [90.0]]}, "setting.line_load"),
        ({"setting.line_load": [None]}, "setting.line_load"),
        ({"setting.line_load": [float("inf")]}, "setting.line_load"),
        ({"setting.holding": ["fixed", "floating"]}, "setting.holding"),
        ({"tip.facet_length": ["worn"]}, "tip.facet_length"),
        ({"setting.line_load": [100.0], "setting.line_load_N_per_m": [90.0]}, "setting.line_load_N_per_m"),
    ],
)
def test_bad_fields_are_refused(case, fields, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.sweep(case, fields)
    assert name in [problem.path for problem in error.value.problems]


@pytest.mark.parametrize(
    ("options", "name"),
    [
        ({"threads": -1}, "threads"),
        ({"threads": 1.5}, "threads"),
        ({"outputs": []}, "outputs"),
        ({"outputs": "film_on_lands"}, "outputs"),
        ({"outputs": ["film"]}, "outputs"),
        ({"on_failure": "hide"}, "on_failure"),
        ({"start": "standing"}, "start"),
        ({"partial": "yes"}, "partial"),
        ({"mesh": 9}, "mesh"),
    ],
)
def test_bad_options_are_refused(case, options, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.sweep(case, FIELDS, **options)
    assert error.value.problems[0].path == name
