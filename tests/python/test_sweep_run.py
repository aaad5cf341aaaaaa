"""A sweep while it runs: progress, log, Ctrl-C, executors."""

import concurrent.futures
import logging
import multiprocessing
import signal
import subprocess
import sys
import textwrap

import numpy as np
import pytest
import xarray as xr

import libblade as lb
from libblade import _sweep

FIELDS = {"setting.set_angle_deg": np.linspace(26.0, 36.0, 5), "setting.line_load": [60.0, 100.0, 180.0]}
LINE = {"setting.line_load": [60.0, 100.0, 180.0]}


@pytest.fixture(scope="module")
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def grid(case) -> xr.Dataset:
    return lb.sweep(case, FIELDS)


@pytest.fixture(scope="module")
def thin(case) -> lb.Case:
    """A long thin blade: lies flat under the higher loads."""
    with pytest.warns(lb.LibbladeWarning):
        return case.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm"})


def test_progress_without_tqdm_is_a_line(case, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "tqdm", None)
    lb.sweep(case, LINE, outputs=["film_on_lands"], progress=True)
    text = capsys.readouterr().err
    assert text.count("3 of 3 points") == 1
    assert text.endswith("s\n")


def test_progress_with_tqdm_is_a_bar(case, capsys):
    pytest.importorskip("tqdm")
    lb.sweep(case, LINE, outputs=["film_on_lands"], progress=True)
    out, err = capsys.readouterr()
    assert "3/3" in err
    assert "points," not in err
    assert not out


def test_progress_of_another_kind_is_refused(case):
    with pytest.raises(lb.InvalidInput, match="progress"):
        lb.sweep(case, LINE, progress="yes")


def test_the_log_tells_start_end_and_failures(thin, caplog, capfd):
    with caplog.at_level(logging.INFO, "libblade"):
        lb.sweep(thin, {"setting.line_load": [20.0, *np.linspace(300.0, 400.0, 7)]}, outputs=["film_on_lands"])
    told = [(record.levelname, record.getMessage()) for record in caplog.records]
    assert told[0] == ("INFO", "sweep of 8 points: 8 setting.line_load")
    assert told[1][0] == "INFO"
    assert told[1][1].startswith("8 points in ")
    assert told[1][1].endswith(" s: 1 converged, 7 lying_flat")
    assert told[2][0] == "WARNING"
    assert told[2][1].startswith("not solved at line_load = 300 N/m: lying_flat (")
    assert [level for level, _ in told[2:]] == ["WARNING"] * 6
    assert told[-1][1] == "and 2 more points not solved"
    assert capfd.readouterr() == ("", "")


def test_without_a_log_handler_nothing_is_printed():
    code = """
        import warnings, libblade as lb
        warnings.simplefilter("ignore")
        case = lb.example_case("folding_carton_water")
        thin = case.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm"})
        lb.sweep(thin, {"setting.line_load": [20.0, 300.0]})
    """
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("", "")


LONG = """
    import signal, sys, time
    import numpy as np, libblade as lb
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a job in the background is born deaf to it
    case = lb.example_case("folding_carton_water")
    fields = {"setting.set_angle_deg": np.linspace(26, 36, 300), "setting.line_load": np.linspace(60, 180, 300)}
    def running():
        running.since = time.process_time()
        print("running", flush=True)
    def told(done, total):
        if done >= 20 and not told.said:
            told.said = True
            running()
    told.said = False
    def stopped():
        print("stopped", time.process_time() - running.since, flush=True)
"""


def interrupted(code: str, most: float = 2.0) -> list[str]:
    """Lines printed by a long sweep that gets Ctrl-C while it runs, from the one on that says when it stopped: after at most
    so many seconds of processor time (measured 0.05; the whole sweep takes minutes)."""
    program = [sys.executable, "-c", textwrap.dedent(LONG) + textwrap.dedent(code)]
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline() == "running\n"
        process.send_signal(signal.SIGINT)
        lines = process.stdout.read().split("\n")
        assert process.wait(60) == 0
    word, used = lines[0].split()
    print(f"Ctrl-C answered after {used} s of processor time")
    assert word == "stopped"
    assert float(used) < most
    return lines


def test_ctrl_c_stops_the_threads():
    lines = interrupted("""
        try:
            lb.sweep(case, fields, progress=told)
        except KeyboardInterrupt:
            stopped()
        used = time.process_time()
        time.sleep(0.3)
        print(time.process_time() - used)
    """)
    assert float(lines[1]) < 0.15  # no thread works on


def test_ctrl_c_without_progress_is_honoured_too():
    interrupted("""
        import threading
        threading.Timer(0.5, running).start()
        try:
            lb.sweep(case, fields)
        except KeyboardInterrupt:
            stopped()
    """)


def test_ctrl_c_can_give_what_is_solved():
    lines = interrupted(
        """
        part = lb.sweep(case, fields, progress=told, partial=True)
        stopped()
        status = part.status.values.ravel()
        words = part.status.attrs["flag_meanings"].split()
        done = int((status != words.index("not_run")).sum())
        print(done)
        print((status[:done] == words.index("converged")).all(), (status[done:] == words.index("not_run")).all())
        print(np.isnan(part.film_on_lands.values.ravel()[done:]).all(), part.reason.values.ravel()[-1])
        one = lb.sweep(case, {"setting.set_angle_deg": fields["setting.set_angle_deg"][:1],
                              "setting.line_load": fields["setting.line_load"][:20]})
        print(np.array_equal(one.film_on_lands.values[0], part.film_on_lands.values[0, :20]))
    """,
        most=3.0,
    )
    assert 20 <= int(lines[1]) < 90000
    assert lines[2] == "True True"
    assert lines[3] == "True not reached: the sweep was stopped before"
    assert lines[4] == "True"


def test_partial_results_are_not_failures(case):
    def stop(done, total):
        raise KeyboardInterrupt

    angles = {"setting.set_angle_deg": np.linspace(24, 40, 200), "setting.line_load": [60.0, 100.0, 180.0]}
    part = lb.sweep(case, angles, progress=stop, partial=True, on_failure="raise")
    assert 0 < int((part.status != 0).sum()) < 600


def test_partial_does_not_swallow_other_errors(case):
    def bad(done, total):
        raise ZeroDivisionError("in the callback")

    with pytest.raises(ZeroDivisionError, match="in the callback") as error:
        lb.sweep(case, LINE, progress=bad, partial=True)
    assert error.traceback[-1].name == "bad"


def test_threads_of_an_executor_give_identical_bits(case, grid):
    seen = []
    with concurrent.futures.ThreadPoolExecutor(2) as executor:
        other = lb.sweep(case, FIELDS, executor=executor, progress=lambda *counts: seen.append(counts))
    assert other.identical(grid)
    assert seen[-1] == (15, 15)


def test_processes_give_identical_bits(case, grid):
    context = multiprocessing.get_context("spawn")
    with concurrent.futures.ProcessPoolExecutor(2, mp_context=context) as executor:
        assert lb.sweep(case, FIELDS, executor=executor).identical(grid)


@pytest.mark.filterwarnings("ignore")  # the cluster's own
@pytest.mark.parametrize("processes", [False, True])
def test_dask_gives_identical_bits(case, grid, processes):
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=1 + processes, threads_per_worker=1, processes=processes, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor() as executor,
    ):
        assert lb.sweep(case, FIELDS, executor=executor).identical(grid)
        with pytest.raises(lb.InvalidInput, match=r"client\.get_executor\(\)"):
            lb.sweep(case, LINE, executor=client)


def test_an_executor_stops_when_the_caller_does(case, monkeypatch):
    begun = []
    monkeypatch.setattr(_sweep, "_block", lambda job, *stretch: begun.append(stretch) or job.solve(*stretch)[0])

    def stop(done, total):
        raise KeyboardInterrupt

    with concurrent.futures.ThreadPoolExecutor(1) as executor:
        part = lb.sweep(case, FIELDS, executor=executor, progress=stop, partial=True)
        with pytest.raises(KeyboardInterrupt):
            lb.sweep(case, FIELDS, executor=executor, progress=stop)
    assert 1 <= int((part.status != 0).sum()) < 15
    assert len(begun) < 2 * 15  # the others were taken back


@pytest.mark.parametrize("executor", [7, "threads", concurrent.futures.ThreadPoolExecutor])
def test_what_is_no_executor_is_refused(case, executor):
    with pytest.raises(lb.InvalidInput, match="executor"):
        lb.sweep(case, LINE, executor=executor)
