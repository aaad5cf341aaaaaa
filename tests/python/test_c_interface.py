"""The C interface through ctypes, against the Python package; what the shared library shows."""

import ctypes as ct
import os
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

import libblade as lb

ROOT = Path(__file__).parents[2]
FIELDS = ("setting.set_angle", "setting.line_load", "setting.surface_speed", "ink.temperature")
OUTPUTS = ("film_on_lands", "tangential_load", "effective_angle")
CONVERGED, OUT_OF_RANGE, BAD_INPUT = 1, 10, 101


class Many(ct.Structure):
    _fields_ = (
        ("points", ct.c_size_t),
        ("inputs", ct.POINTER(ct.c_double)),
        ("in_point_stride", ct.c_ssize_t),
        ("in_field_stride", ct.c_ssize_t),
        ("outputs", ct.POINTER(ct.c_double)),
        ("out_point_stride", ct.c_ssize_t),
        ("out_output_stride", ct.c_ssize_t),
        ("statuses", ct.POINTER(ct.c_int)),
        ("warm", ct.c_int),
    )


class Field(ct.Structure):
    _fields_ = (
        *((name, ct.c_char_p) for name in ("path", "meaning", "unit")),
        ("is_number", ct.c_int),
        *((name, ct.c_double) for name in ("hard_min", "hard_max", "usual_min", "usual_max")),
    )


@pytest.fixture(scope="module")
def library() -> ct.CDLL:
    default = ROOT / "build" / "release" / "libblade" / "libblade_c.so"
    path = Path(os.environ.get("LIBBLADE_C_LIBRARY", default))
    if not path.exists():
        pytest.skip(f"{path} is not built: make test builds it")
    loaded = ct.CDLL(str(path))
    for name in ("blade_case_new", "blade_solver_new", "blade_workspace_new"):
        getattr(loaded, name).restype = ct.c_void_p
    for name in ("blade_case_error", "blade_solver_error", "blade_workspace_error", "blade_version", "blade_status_text"):
        getattr(loaded, name).restype = ct.c_char_p
    loaded.blade_field_count.restype = ct.c_size_t
    return loaded


def words(*texts: str):
    return (ct.c_char_p * len(texts))(*(text.encode() for text in texts))


@pytest.fixture
def handles(library):
    """A shipped case, its solver and a workspace, given back at the end."""
    case = lb.example_case("folding_carton_water")
    text = case.to_json().encode()
    c, s = ct.c_void_p(library.blade_case_new()), ct.c_void_p(library.blade_solver_new())
    assert library.blade_case_read(c, text, ct.c_size_t(len(text))) == CONVERGED, library.blade_case_error(c)
    status = library.blade_solver_set_up(
        s, c, ct.c_size_t(len(FIELDS)), words(*FIELDS), ct.c_size_t(len(OUTPUTS)), words(*OUTPUTS), 0
    )
    assert status == CONVERGED, library.blade_solver_error(s)
    w = ct.c_void_p(library.blade_workspace_new(s))
    yield case, c, s, w
    library.blade_workspace_free(w)
    library.blade_solver_free(s)
    library.blade_case_free(c)


def pointer(array: np.ndarray, kind=ct.c_double):
    return array.ctypes.data_as(ct.POINTER(kind))


def test_it_gives_the_numbers_of_the_package(library, handles):
    case, _, solver, workspace = handles
    rng = np.random.default_rng(4)
    low, high = np.array([0.48, 60.0, 1.0, 290.0]), np.array([0.62, 200.0, 8.0, 310.0])
    values = low + (high - low) * rng.random((9, 4))
    values[5, 1] = -3.0
    fortran, out, statuses = np.asfortranarray(values), np.full((9, 6), 7.0), np.zeros(9, dtype=np.int32)
    many = Many(9, pointer(fortran), 1, 9, pointer(out), 6, 2, pointer(statuses, ct.c_int), 0)  # every second column
    assert library.blade_solve_many(solver, workspace, ct.byref(many)) == OUT_OF_RANGE
    names = ("setting.set_angle_rad", *FIELDS[1:])
    good = np.delete(np.arange(9), 5)
    assert list(statuses[good]) == [CONVERGED] * 8
    assert statuses[5] == OUT_OF_RANGE
    found = lb.evaluate(case, OUTPUTS, **{name: values[good, k] for k, name in enumerate(names)})
    for k, name in enumerate(OUTPUTS):
        np.testing.assert_array_equal(out[good, 2 * k], np.asarray(found[name]))
    assert np.isnan(out[5, ::2]).all()
    assert (out[:, 1::2] == 7.0).all()


def test_its_errors_name_field_value_and_range(library, handles):
    _, case, solver, _ = handles
    assert library.blade_case_set_text(case, b"blade.thickness", b"0.15 kg") == BAD_INPUT
    assert b"blade.thickness" in library.blade_case_error(case)
    assert library.blade_case_set_number(case, b"blade.thickness", ct.c_double(1.0)) == BAD_INPUT
    message = library.blade_case_error(case).decode()
    assert "blade.thickness" in message
    assert "mm" in message
    bad = words("roll.engraving.screen")
    assert library.blade_solver_set_up(solver, case, ct.c_size_t(1), bad, ct.c_size_t(0), None, 0) == BAD_INPUT
    assert b"roll.engraving.screen" in library.blade_solver_error(solver)


def test_its_field_table_is_the_package_s(library):
    rows = {}
    for k in range(library.blade_field_count()):
        field = Field()
        assert library.blade_field_at(ct.c_size_t(k), ct.byref(field)) == CONVERGED
        rows[field.path.decode()] = field
    table = {row.path: row for row in lb.field_table()}
    assert set(rows) == set(table)
    for path, row in table.items():
        assert rows[path].is_number == (row.kind == "number")
        if row.kind == "number":
            assert (rows[path].hard_min, rows[path].hard_max) == tuple(row.hard_range)
    assert library.blade_version().decode() == lb.__version__


def test_the_shared_library_shows_its_interface_and_nothing_else(library):
    if shutil.which("nm") is None:
        pytest.skip("nm is not installed")
    shown = subprocess.run(
        ["nm", "-D", "--defined-only", library._name], capture_output=True, text=True, check=True
    ).stdout.split("\n")
    names = {line.split()[-1] for line in shown if line}
    header = (ROOT / "libblade/include/libblade/c_interface.h").read_text(encoding="utf-8")
    declared = {
        line.split("(")[0].split()[-1].lstrip("*") for line in header.splitlines() if line.startswith("BLADE_API")
    }
    assert names == declared
    assert len(names) > 20
