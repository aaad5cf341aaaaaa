"""The engine as node runs it, and the lesson's page."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ENGINE = ROOT / "bindings" / "libblade" / "page" / "engine.js"
_ASK = """
const answer = [];
require(process.argv[1])().then((engine) => {
    for (const request of JSON.parse(require("fs").readFileSync(0, "utf8"))) answer.push(engine.answer(request));
    process.stdout.write(JSON.stringify(answer));
});
"""


@pytest.fixture(scope="session")
def ask():
    """Answers of the engine in node to a list of request texts, in one process."""
    node = shutil.which("node")
    assert node is not None, "node is not installed: `make test-lesson` installs it"
    assert ENGINE.exists(), "the engine is not built: `make lesson` builds it"

    def run(requests: list[str]) -> list[str]:
        done = subprocess.run(
            [node, "-e", _ASK, str(ENGINE)], input=json.dumps(requests), capture_output=True, text=True, check=True
        )
        return json.loads(done.stdout)

    return run
