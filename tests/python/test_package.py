"""Promises of the package as a whole: light import, stubs that match, one word for a missing extra, slips caught at every door."""

import json
import subprocess
import sys
import warnings
from pathlib import Path

import pytest
from libblade._cli import main

import libblade as lb

ROOT = Path(__file__).parents[2]


def run(code: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *arguments, "-c", code], capture_output=True, text=True, check=True)


def test_import_brings_no_heavy_packages():
    heavy = "{'matplotlib', 'scipy', 'dask', 'pint', 'h5netcdf', 'tqdm'}"
    out = run(f"import sys, libblade; print(sorted({heavy} & set(sys.modules)))").stdout
    assert out.strip() == "[]"


def test_import_time_is_told():
    """Its own share, without numpy and xarray; told, not judged by the clock of a shared machine."""
    out = run("import libblade", "-X", "importtime").stderr
    rows = {
        name.strip(): int(total)
        for _, total, name in (line.rsplit("|", 2) for line in out.splitlines()[1:] if line.count("|") == 2)
    }
    libraries = rows["numpy"] + rows["xarray"]
    print(f"import libblade: {rows['libblade'] / 1e6:.3f} s, of it numpy and xarray {libraries / 1e6:.3f} s")
    assert rows["libblade"] > 0


def test_stubs_name_all_that_the_module_has():
    from libblade import _core

    text = (ROOT / "bindings" / "libblade" / "_core.pyi").read_text(encoding="utf-8")
    missing = [name for name in dir(_core) if not name.startswith("_") and f"{name}" not in text]
    assert missing == []


def test_a_missing_extra_names_the_command():
    code = (
        "import sys; sys.modules['matplotlib'] = None; sys.modules['matplotlib.pyplot'] = None\n"
        "import libblade as lb, numpy as np\n"
        "fields = {'setting.set_angle_deg': [28, 30], 'setting.line_load': [90.0, 110.0]}\n"
        "grid = lb.sweep(lb.example_case('folding_carton_water'), fields)\n"
        "try:\n    lb.plot_map(grid, 'excess_ink')\nexcept ImportError as error:\n    print(error)"
    )
    assert 'pip install "libblade[plots]"' in run(code).stdout


# One slip of units each: what is written, and the field that must be refused or warned about.
SLIPS = {
    "set_angle in degrees without a unit": ("setting.set_angle", 30),
    "set_angle 0.5 deg for 0.5 rad": ("setting.set_angle", "0.5 deg"),
    "viscosity 30 for 30 mPa s": ("ink.viscosity", 30),
    "line_load 100 N/mm for 100 N/m": ("setting.line_load", "100 N/mm"),
    "line_load 0.1 for 0.1 N/mm": ("setting.line_load", 0.1),
    "surface_speed 300 for 300 m/min": ("setting.surface_speed", 300),
    "surface_speed 5 m/min for 5 m/s": ("setting.surface_speed", "5 m/min"),
    "thickness 0.2 for 0.2 mm": ("blade.thickness", 0.2),
    "free_length 12 for 12 mm": ("blade.free_length", 12),
    "land_roughness 0.24 for 0.24 um": ("roll.land_roughness", 0.24),
    "cell_volume 4.5 for 4.5 cm3/m2": ("roll.engraving.cell_volume", 4.5),
    "screen 160 for 160 1/cm": ("roll.engraving.screen", 160),
}


def caught(action) -> str:
    """What the user is told: the refusal or the warnings."""
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            action()
        except lb.InvalidInput as bad:
            return str(bad)
    return "\n".join(str(w.message) for w in told)


@pytest.mark.parametrize("slip", SLIPS)
def test_slips_are_caught_in_python_json_and_command_line(slip, tmp_path, capsys):
    path, value = SLIPS[slip]
    case = lb.example_case("folding_carton_water")
    assert path in caught(lambda: case.replace({path: value}))

    document = json.loads(case.to_json())
    *groups, leaf = path.split(".")
    place = document
    for group in groups:
        place = place[group]
    for spelling in [key for key in place if key == leaf or key.startswith(leaf + "_")]:
        del place[spelling]
    if path == "ink.viscosity":
        document["ink"].pop("rheology")
    place[leaf] = value
    file = tmp_path / "case.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    assert path in caught(lambda: lb.load_case(file))

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        main(["check", str(file)])
    out = capsys.readouterr()
    assert path in out.out + out.err
