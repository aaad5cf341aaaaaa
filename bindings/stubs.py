"""Types of the C++ module, read from the installed package: writes bindings/libblade/_core.pyi, with --check compares it."""

import difflib
import re
import subprocess
import sys
import tempfile
from pathlib import Path

STUBS = Path(__file__).parent / "libblade" / "_core.pyi"
# What the generator leaves bare, and mypy asks for.
MENDED = [
    (r"(?<=[ \[])dict(?=[\]:,)]| \|)", "dict[str, typing.Any]"),
    (r"(?<=: )tuple(?=[,)])", "tuple[typing.Any, ...]"),
    (r"(?<=[ \[])list(?=[\]:,])", "list[typing.Any]"),
    (r"(__hash__: typing.ClassVar\[None\] = None)", r"\1  # type: ignore[assignment]"),
]


def _run(text: str, *command: str) -> str:
    return subprocess.run(
        [sys.executable, "-m", *command], input=text, stdout=subprocess.PIPE, text=True, check=True
    ).stdout


def generated() -> str:
    """The stubs as they ought to be."""
    with tempfile.TemporaryDirectory() as folder:
        _run("", "pybind11_stubgen", "libblade._core", "--exit-code", "--output-dir", folder)
        text = (Path(folder) / "libblade" / "_core.pyi").read_text(encoding="utf-8")
    for bare, full in MENDED:
        text = re.sub(bare, full, text)
    as_stubs = ("--stdin-filename", str(STUBS), "-")
    return _run(_run(text, "ruff", "check", "--quiet", "--select=I", "--fix", *as_stubs), "ruff", "format", *as_stubs)


def main() -> int:
    text = generated()
    if "--check" not in sys.argv[1:]:
        STUBS.write_text(text, encoding="utf-8")
        return 0
    names = (f"{STUBS.name} as it stands", "as generated: run `make stubs`")
    told = list(
        difflib.unified_diff(STUBS.read_text(encoding="utf-8").splitlines(), text.splitlines(), *names, lineterm="")
    )
    print("\n".join(told) or f"{STUBS.name} is what the module has")
    return 1 if told else 0


if __name__ == "__main__":
    raise SystemExit(main())
