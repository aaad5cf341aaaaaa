"""Instructions of one solve in the hot loop, counted by callgrind, beside those recorded: a gauge that no other work on the
machine moves. Reported, never judged. ``instructions.py PROGRAM`` prints; ``--record`` writes instructions.json anew.
"""

import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

KINDS = ("Newtonian", "Newtonian, warm", "everything on", "everything on, warm")
RECORD = Path(__file__).with_name("instructions.json")
FEW, MANY = 100, 400


def counted(program: str, kind: str, solves: int) -> int:
    with tempfile.TemporaryDirectory() as folder:
        command = ["valgrind", "--tool=callgrind", f"--callgrind-out-file={folder}/out", program, kind, str(solves)]
        told = subprocess.run(command, capture_output=True, text=True, check=True).stderr
    return int(re.search(r"Collected : (\d+)", told)[1])


def main(program: str, record: bool) -> None:
    if shutil.which("valgrind") is None:
        print("instructions: valgrind is not installed: left out")
        return
    known = json.loads(RECORD.read_text(encoding="utf-8")) if RECORD.exists() else {}
    now = {}
    for kind in KINDS:  # set-up falls out of the difference
        now[kind] = round((counted(program, kind, MANY) - counted(program, kind, FEW)) / (MANY - FEW))
        ratio = f", {now[kind] / known[kind]:.3f} of those recorded" if kind in known else ""
        print(f"hot loop, {kind}: {now[kind]} instructions a solve{ratio}")
    if record:
        RECORD.write_text(json.dumps(now, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1], "--record" in sys.argv)
