"""Texts that no one writes by hand: every door reads them or says what is wrong, shortly, in bounded time and memory."""

import json
import subprocess
import sys
import time

import pytest
from libblade._cli import main
from libblade._json_text import DEEPEST, LARGEST, json_of

import libblade as lb

MIB = 1 << 20
DEEP = 100_000
SECONDS = 20.0  # of processor time; each takes a small part of one


def case_text(**more):
    return json.dumps({**json.loads(lb.example_case("folding_carton_water").to_json()), **more})


SYNTAX = {  # what every reader of JSON refuses with the place
    "empty": "",
    "lists without end": "[" * DEEP,
    "objects without end": '{"a":' * DEEP,
    "cut": '{"name": "x"',
    "NUL": '{"na\0me": 1}',
    "a word": '{"a": nul}',
    "two values": "{} {}",
    "a comma too many": '{"a": 1,}',
}
REFUSED = {
    "deep lists": '{"name": ' + "[" * DEEP + "]" * DEEP + "}",
    "deep objects": '{"a":' * DEEP + "1" + "}" * DEEP,
    "1e400": '{"blade": {"thickness_mm": 1e400}}',
    "400 digits": '{"blade": {"thickness_mm": ' + "9" * 400 + "}}",
    "5000 digits": '{"blade": {"thickness_mm": ' + "9" * 5000 + "}}",
    "a key twice": '{"name": "a", "name": "b"}',
    "half a letter": '{"name": "\\ud800"}',
    "not a number": '{"a": NaN}',
    "infinite": '{"a": -Infinity}',
    "a list": "[]",
    "a megabyte of key": '{"' + "k" * (MIB - 10) + '": 1}',
    "a key for many": '{"' + "k" * 400_000 + '": {' + ",".join(f'"{i}": 1' for i in range(40_000)) + "}}",
    "many keys": "{" + ",".join(f'"blade{i}": 1' for i in range(60_000)) + "}",
    "one key often": "{" + ",".join(['"blade": 1'] * 80_000) + "}",
    "a megabyte of number": '{"blade": {"thickness_mm": 0.' + "0" * (MIB - 100) + "1}}",
    "a megabyte of degrees": '{"setting": {"set_angle": "30 ' + "\N{DEGREE SIGN}" * 500_000 + '"}}',
    "100 MB": '{"name": "' + "x" * 100_000_000 + '"}',
    "steers a terminal": '{"\\u001b[31mred\\u0007": 1, "blade": {"thickness": "1 \\u009b31m"}}',
}


def judged(read, text, length=100_000):
    began = time.process_time()
    with pytest.raises(lb.InvalidInput) as error:
        read(text)
    assert time.process_time() - began < SECONDS
    told = str(error.value)
    assert 0 < len(told) < length
    told.encode("utf-8")
    assert all(letter == "\n" or letter.isprintable() for letter in told)
    return told


@pytest.mark.parametrize("what", SYNTAX)
@pytest.mark.parametrize(
    "read", [lb.Case.from_json, lb.Schedule.from_json, lb.read_particles, lb.Observation.from_json, lb.migrate_case]
)
def test_syntax_is_refused_with_its_place(read, what):
    told = judged(read, SYNTAX[what])
    assert ("line 1, column" in told) or "nested too deeply" in told


@pytest.mark.parametrize("what", REFUSED)
@pytest.mark.parametrize(
    "read", [lb.Case.from_json, lb.Schedule.from_json, lb.read_particles, lb.Observation.from_json, lb.migrate_case]
)
def test_refused_shortly_and_in_time(read, what):
    judged(read, REFUSED[what])


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("deep objects", "nested too deeply"),
        ("1e400", "line 1, column 32: is too large for a number"),
        ("400 digits", "is too large for a number"),
        ("a key twice", "name: is given twice"),
        ("half a letter", "line 1, column 17"),
        ("a megabyte of key", "is longer than any name of a field"),
        ("many keys", "more than 1000 values"),
        ("a megabyte of degrees", "is too long"),
        ("100 MB", "is larger than 1 MiB"),
        ("steers a terminal", "?[31mred?: is not a known field"),
    ],
)
def test_a_case_says_what(what, words):
    assert words in judged(lb.Case.from_json, REFUSED[what])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"a": 1, "a": 2}', "is given twice"),
        ('{"a": 1e400}', "is not a finite number"),
        ('{"a": ' + "9" * 5000 + "}", "is not a finite number"),
        ('{"a": Infinity}', "is not a finite number"),
        ("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1), "nested too deeply"),
        ("[" * DEEP + "]" * DEEP, "nested too deeply"),
        ('["\\udc00"]', "half of a letter"),
        ("x" * (LARGEST + 1), "larger than 1 MiB"),
        ('{\n "a": ?}', "line 2, column 7"),
    ],
)
def test_the_other_doors_say_what(text, words):
    assert words in judged(lambda given: json_of(given, "door"), text)


def test_what_is_good_is_read():
    tree = {"a": [1, 2.5, "x", None, True], "b": {"c": -3}, "n": 12345678901234567890}
    assert json_of(json.dumps(tree), "door") == tree
    assert json_of("[" * DEEPEST + "]" * DEEPEST, "door")
    assert lb.Case.from_json(case_text(note="x" * 100_000)).note == "x" * 100_000
    assert lb.Case.from_json("\ufeff" + case_text()) == lb.example_case("folding_carton_water")


def test_a_note_that_no_file_could_hold_is_refused():
    with pytest.raises(lb.InvalidInput, match="1 MiB"):
        lb.example_case("folding_carton_water").replace({"note": "x" * 2 * MIB}).to_json()


BYTES = {
    "not UTF-8": b'{"name": "\xff"}',
    "an overlong form": b'{"name": "\xc0\xaf"}',
    "UTF-16": case_text().encode("utf-16"),
    "NUL bytes": bytes(1000),
    "noise": bytes(range(256)) * 8,
    "deep": b"[" * DEEP,
    "2 MiB": b" " * (2 * MIB),
}


@pytest.mark.parametrize("what", BYTES)
def test_files_of_bytes_are_status_2_without_a_traceback(what, tmp_path, capsys):
    path = tmp_path / "bad.json"
    path.write_bytes(BYTES[what])
    good = "folding_carton_water"
    for command in (
        ["check", str(path)],
        ["migrate", str(path)],
        ["wear", good, "--schedule", str(path)],
        ["score", good, "--particles", str(path)],
        ["trace", good, "--observation", str(path)],
    ):
        assert main(command) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.startswith("error: ")
        assert "Traceback" not in err


@pytest.mark.parametrize("name", ["no\udcffUTF-8.json", "\x1b[31mred.json"])
def test_names_of_files_are_shown_safely(name, tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "libblade", "check", str(tmp_path / name)], capture_output=True, check=False
    )
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert b"\x1b" not in done.stderr


def test_memory_stays_small(tmp_path):
    """Text that multiplies where it is kept: a long name before many short ones. 1 MiB must not become gigabytes."""
    path = tmp_path / "long.json"
    path.write_text(REFUSED["a key for many"], encoding="utf-8")
    code = f"""
import resource, libblade as lb
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    lb.load_case({str(path)!r})
except lb.InvalidInput:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert int(done.stdout) < 50_000  # kB


def test_a_system_without_threads_to_give():
    """Address space for a few stacks only: the sweep makes do with the threads that it gets."""
    code = """
import re, resource, numpy as np, libblade as lb
case = lb.example_case("folding_carton_water")
fields = {"setting.line_load": np.linspace(80.0, 120.0, 64)}
good = lb.sweep(case, fields, threads=1)
used = int(re.search(r"VmSize:\\s+(\\d+)", open("/proc/self/status").read()).group(1)) * 1024
limit = used + 200 * 2**20
resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
print(lb.sweep(case, fields, threads=64).identical(good))
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "True", (done.returncode, done.stderr)
