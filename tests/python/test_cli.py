"""The command libblade: results, files, exit status."""

import csv
import json
import math
import subprocess
import sys

import pytest
import xarray as xr
from libblade._cli import main

import libblade as lb

NAME = "folding_carton_water"
FLAT = ["--set", "blade.free_length=30 mm", "--set", "blade.thickness=0.1 mm", "--set", "setting.line_load=300"]
VARY = ["--vary", "setting.set_angle_deg=26:34:3", "--vary", "setting.line_load=60:180 N/m:2", "--quiet"]


def test_solve_prints_the_point(capsys):
    assert main(["solve", NAME]) == 0
    assert capsys.readouterr().out.startswith("converged: wiping")


def test_solve_as_json_is_the_point(capsys):
    assert main(["solve", NAME, "--json", "--set", "setting.set_angle_deg=32"]) == 0
    told = json.loads(capsys.readouterr().out)
    point = lb.solve(lb.example_case(NAME).replace({"setting.set_angle": "32 deg"}))
    assert told["status"] == "converged"
    assert told["film_on_lands"] == point.film_on_lands
    assert told["regime"] == point.regime


def test_an_unsolved_point_is_status_1_with_nulls(capsys):
    assert main(["solve", NAME, "--json", *FLAT]) == 1
    out, err = capsys.readouterr()
    told = json.loads(out)
    assert told["status"] == "lying_flat"
    assert told["film_on_lands"] is None
    assert "note: " in err  # the values are unusual
    assert main(["solve", NAME, *FLAT]) == 1
    assert capsys.readouterr().out.startswith("not solved: lying_flat")


def test_a_file_is_read(tmp_path, capsys):
    path = tmp_path / "case.json"
    path.write_text(lb.example_case(NAME).to_json(), encoding="utf-8")
    assert main(["check", str(path), "--json"]) == 0
    assert lb.Case.from_json(capsys.readouterr().out) == lb.example_case(NAME)
    assert main(["check", str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "good"
    assert main(["check", str(path), "--set", "setting.friction=0.5"]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "good, with 1 unusual value"


def test_cases_are_listed(capsys):
    assert main(["cases", "--json"]) == 0
    assert tuple(json.loads(capsys.readouterr().out)) == lb.example_cases()
    assert main(["cases"]) == 0
    assert NAME in capsys.readouterr().out


def test_map_as_csv(tmp_path, capsys):
    out = tmp_path / "map.csv"
    assert main(["map", NAME, *VARY, "-o", str(out)]) == 0
    assert "6 of 6 points solved" in capsys.readouterr().out
    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 6
    assert {float(row["line_load"]) for row in rows} == {60.0, 180.0}
    assert rows[0]["status"] == "converged"
    case = lb.example_case(NAME).replace({"setting.set_angle_deg": 26, "setting.line_load": 60})
    assert float(rows[0]["film_on_lands"]) == pytest.approx(lb.solve(case).film_on_lands, rel=1e-12)


def test_map_as_json_and_netcdf(tmp_path):
    assert main(["map", NAME, *VARY, "-o", str(tmp_path / "map.json")]) == 0
    told = json.loads((tmp_path / "map.json").read_text(encoding="utf-8"))
    assert told["dims"] == {"set_angle": 3, "line_load": 2}
    pytest.importorskip("h5netcdf")
    assert main(["map", NAME, *VARY, "-o", str(tmp_path / "map.nc")]) == 0
    with xr.open_dataset(tmp_path / "map.nc", engine="h5netcdf") as grid:
        assert dict(grid.sizes) == told["dims"]
        assert grid.film_on_lands.values.tolist() == told["data_vars"]["film_on_lands"]["data"]


def test_map_as_picture(tmp_path):
    pytest.importorskip("matplotlib")
    out = tmp_path / "map.png"
    assert main(["map", NAME, *VARY, "-o", str(out)]) == 0
    assert out.read_bytes().startswith(b"\x89PNG")


def test_a_map_without_any_solution_is_status_1(tmp_path, capsys):
    fields = ["--vary", "setting.line_load=300:400:2", "--quiet", "-o", str(tmp_path / "map.csv")]
    assert main(["map", NAME, *FLAT, *fields]) == 1
    assert "0 of 2 points solved\n  2 lying_flat" in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [
        ["solve", "no_such_case"],
        ["solve", NAME, "--set", "setting.set_angle=30"],
        ["solve", NAME, "--set", "setting.set_angle"],
        ["solve", NAME, "--set", "nothing=3"],
        ["map", NAME, "--vary", "setting.set_angle=24:40:3", "-o", "map.csv"],
        ["map", NAME, "--vary", "setting.set_angle_deg=24:40", "-o", "map.csv"],
        ["map", NAME, "--vary", "setting.set_angle_deg=24:40:0", "-o", "map.csv"],
        ["map", NAME, "--vary", "setting.set_angle_deg=24 deg:40:3", "-o", "map.csv"],
        ["map", NAME, "--vary", "setting.holding=24:40:3", "-o", "map.csv"],
        ["map", NAME, "--vary", "setting.line_load=60:80:2", "-o", "map.xyz"],
        ["map", NAME, "--vary", "setting.line_load=60:80:2", "-o", "no/such/folder/map.csv"],
        ["map", NAME, "--vary", "setting.line_load=60:80:2", "-o", "map.png"],
        ["map", NAME, "--vary", "setting.line_load=60:80:2", "--vary", "setting.line_load=60:80:2", "-o", "map.csv"],
        ["check", "."],
    ],
)
def test_bad_input_is_status_2_with_a_reason(arguments, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert err.startswith("error: ")
    assert "Traceback" not in err
    assert not out
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("arguments", [[], ["fly"], ["solve"], ["solve", NAME, "--start", "flying"], ["map", NAME]])
def test_wrong_usage_is_status_2(arguments, capsys):
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == 2
    assert "usage: libblade" in capsys.readouterr().err


def test_help_shows_an_example(capsys):
    for arguments in (["--help"], ["solve", "--help"], ["map", "--help"], ["check", "--help"]):
        with pytest.raises(SystemExit) as stop:
            main(arguments)
        assert stop.value.code == 0
        assert "example" in capsys.readouterr().out


def test_it_runs_as_a_module():
    done = subprocess.run(
        [sys.executable, "-m", "libblade", "solve", NAME, "--json"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert math.isfinite(json.loads(done.stdout)["film_on_lands"])


WEAR = ["wear", NAME, "--set", "tip.facet_length=200 um", "--quiet"]


def test_cmake_is_shown_the_folder_of_the_library(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("libblade._cli_parts.__file__", str(tmp_path / "_cli_parts.py"))
    with pytest.raises(SystemExit, match=r"^2$"):
        main(["--cmake-dir"])
    assert "without its C++ library" in capsys.readouterr().err
    folder = tmp_path / "lib64" / "cmake" / "libblade"
    folder.mkdir(parents=True)
    (folder / "libbladeConfig.cmake").touch()
    with pytest.raises(SystemExit, match=r"^0$"):
        main(["--cmake-dir"])
    assert capsys.readouterr().out == f"{folder}\n"


def test_wear_prints_the_life(capsys):
    assert main([*WEAR, "--distance", "2 km"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("converged: 2 km of web, 0.111 h: the end of the schedule")
    assert main([*WEAR, "--distance", "2 km", "--facet-limit", "0.1 mm"]) == 0
    assert "the facet is 0.1 mm long, its limit" in capsys.readouterr().out


def test_wear_as_json_is_the_history(capsys):
    assert main([*WEAR, "--distance", "2 km", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    story = lb.wear(lb.example_case(NAME).replace({"tip.facet_length": "200 um"}), "2 km")
    assert told["life"]["distance"] == story.life.distance
    assert told["last"]["facet_length"] == float(story.dataset.facet_length[-1])
    assert told["status"] == "converged"


@pytest.mark.parametrize("suffix", ["csv", "nc", "json", "png"])
def test_wear_writes_its_files(suffix, tmp_path, capsys):
    plan, out = tmp_path / "plan.json", tmp_path / f"life.{suffix}"
    plan.write_text('[{"distance": "1 km"}, {"distance": "1 km", "set": {"setting.line_load": "120 N/m"}}]')
    assert main([*WEAR, "--schedule", str(plan), "-o", str(out)]) == 0
    if suffix == "csv":
        rows = list(csv.DictReader(out.read_text().splitlines()))
        assert float(rows[-1]["distance"]) == 2000.0
        assert {row["schedule_step"] for row in rows} == {"0", "1"}
        assert rows[0]["regime"] == "wiping"
    elif suffix == "nc":
        with xr.open_dataset(out, engine="h5netcdf") as data:
            assert float(data.distance[-1]) == 2000.0
    else:
        assert out.stat().st_size > 2000


def test_wear_goes_on_from_its_file(tmp_path, capsys):
    file = tmp_path / "life.json"
    assert main([*WEAR, "--distance", "2 km", "--save", str(file), "--max-steps", "4", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["status"] == "max_iterations"
    assert main([*WEAR, "--distance", "2 km", "--resume", str(file), "--json"]) == 0
    again = capsys.readouterr().out
    assert main([*WEAR, "--distance", "2 km", "--json"]) == 0
    assert capsys.readouterr().out == again
    assert main([*WEAR, "--distance", "3 km", "--resume", str(file)]) == 2
    assert "schedule.0.distance" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--distance", "3 kg"], "distance"),
        (["--distance", "1 km", "--facet-limit", "0 mm"], "facet_limit"),
        (["--schedule", "nowhere.json"], "cannot be read"),
        (["--distance", "1 km", "-o", "life.txt"], "must end in"),
    ],
)
def test_bad_wear_is_status_2(arguments, words, capsys):
    assert main([*WEAR, *arguments]) == 2
    assert words in capsys.readouterr().err
    with pytest.raises(SystemExit) as error:
        main(WEAR)
    assert error.value.code == 2


SCORE = ["score", NAME, "--quiet"]


def test_score_prints_the_risk_and_says_that_the_counts_are_invented(capsys):
    assert main([*SCORE, "--filter", "50 um", "--face-width", "1.2 m"]) == 0
    told, notes = capsys.readouterr()
    risk = lb.scoring(
        lb.example_case(NAME), lb.example_particles(), lb.InkLoop(filter=lb.Filter("50 um")), face_width="1.2 m"
    )
    assert told.strip() == repr(risk)
    assert "invented" in notes


def test_score_as_json_with_a_file_of_particles(tmp_path, capsys):
    grit = {"name": "grit", "median_size": "12 um", "hardness": "20 GPa", "tank_rate": "200 1/h"}
    file, out = tmp_path / "ink.json", tmp_path / "risk.json"
    file.write_text(
        json.dumps({"particles": [grit], "loop": {"flow": "6 L/min", "filter": {"size": "80 um", "beta": 20}}})
    )
    arguments = [*SCORE, "--particles", str(file), "--samples", "6", "--seed", "3", "--run-time", "2 h", "--json"]
    assert main([*arguments, "-o", str(out)]) == 0
    told, notes = capsys.readouterr()
    assert "invented" not in notes
    tree = json.loads(told)
    assert tree == json.loads(out.read_text())
    loop = lb.InkLoop(flow="6 L/min", filter=lb.Filter("80 um", beta=20.0))
    risk = lb.scoring(lb.example_case(NAME), [lb.Particles(**grit)], loop, run_time="2 h", samples=6, rng=3)
    assert tree["rates"] == dict(risk.total)
    assert tree["uncertain"]["rates"]["offered"] == vars(risk.uncertain.rates["offered"])
    assert tree["uncertain"]["seed"] == 3
    assert tree["classes"][0]["name"] == "grit"
    assert "note" not in tree
    # --filter keeps what else the file says of its filter.
    assert main([*arguments, "--filter", "40 um"]) == 0
    finer = lb.scoring(
        lb.example_case(NAME), [lb.Particles(**grit)], loop.replace(filter=lb.Filter("40 um", 20.0)), run_time=7200.0
    )
    assert json.loads(capsys.readouterr().out)["rates"] == dict(finer.total)


@pytest.mark.parametrize("suffix", ["csv", "nc", "json", "png"])
def test_score_writes_its_maps(suffix, tmp_path, capsys):
    out = tmp_path / f"map.{suffix}"
    vary = ["--vary", "setting.set_angle_deg=29:31:3", "--vary", "setting.line_load=100:120 N/m:2"]
    assert main([*SCORE, *vary, "-o", str(out)]) == 0
    assert "6 of 6 points solved" in capsys.readouterr().out
    grid = lb.scoring_map(
        lb.example_case(NAME),
        lb.example_particles(),
        {"setting.set_angle_deg": [29, 30, 31], "setting.line_load": [100.0, 120.0]},
    )
    if suffix == "csv":
        rows = list(csv.DictReader(out.read_text().splitlines()))
        assert [float(row["scores"]) for row in rows] == pytest.approx(grid.scores.values.ravel(), rel=1e-9, abs=0.0)
        assert rows[0]["status"] == "converged"
    elif suffix == "nc":
        with xr.open_dataset(out, engine="h5netcdf") as data:
            assert data.scores.values == pytest.approx(grid.scores.values, rel=1e-9, abs=0.0)
            assert "invented" in data.attrs["note"]
    else:
        assert out.stat().st_size > 2000


def test_score_varies_particles_and_loop(tmp_path):
    out = tmp_path / "map.json"
    vary = ["--vary", "loop.filter.size=20:60 um:3", "--vary", "particles.alumina_grit.hardness=15 GPa:20 GPa:2"]
    assert main([*SCORE, *vary, "-o", str(out)]) == 0
    tree = json.loads(out.read_text())
    assert tree["coords"]["filter_size"]["data"] == pytest.approx([20e-6, 40e-6, 60e-6])
    assert tree["coords"]["alumina_grit_hardness"]["data"] == pytest.approx([15e9, 20e9])


def test_score_ranks_levers(tmp_path, capsys):
    out = tmp_path / "levers.png"
    assert main([*SCORE, "--levers", "-o", str(out)]) == 0
    assert out.stat().st_size > 5000
    told = capsys.readouterr().out
    assert told.startswith("as it is: ")
    assert "before it has run in" in told
    assert main([*SCORE, "--levers", "--json"]) == 0
    levers = lb.scoring_levers(lb.example_case(NAME), lb.example_particles())
    assert [row["name"] for row in json.loads(capsys.readouterr().out)["levers"]] == [lever.name for lever in levers]


def test_an_unsolved_score_is_status_1(capsys):
    assert main([*SCORE, *FLAT, "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["status"] == "lying_flat"
    assert told["rates"]["scores"] is None
    assert main([*SCORE, *FLAT, "--levers", "--json"]) == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--particles", "nowhere.json"], "cannot be read"),
        (["--filter", "50 Pa"], "size"),
        (["--vary", "setting.line_load=1:2:3"], "needs a file"),
        (["--vary", "setting.line_lod=100:120:3", "-o", "a.csv"], "setting.line_load"),
        (["--vary", "setting.line_load=100:120", "-o", "a.csv"], "PATH=FROM:TO:COUNT"),
        (["--vary", "setting.line_load=100:120:x", "-o", "a.csv"], "COUNT"),
        (["--vary", "setting.line_load=100:120:3", "-o", "a.png"], "needs exactly two"),
        (["--vary", "face_width=1:2:2", "--vary", "face_width=1:2:2", "-o", "a.csv"], "names a field twice"),
        (["--samples", "5", "--levers"], "goes with one setting"),
        (["-o", "a.png"], "must end in .json"),
        (["--run-time", "3 kg"], "--run-time"),
        (["--samples", "-2"], "samples"),
    ],
)
def test_bad_score_is_status_2(arguments, words, capsys):
    assert main([*SCORE, *arguments]) == 2
    assert words in capsys.readouterr().err
