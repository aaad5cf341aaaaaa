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


# Nothing but the page: no sandbox inside containers, none of the browser's own traffic.
_QUIET = "--no-sandbox --disable-gpu --disable-background-networking --no-first-run --disable-component-update --disable-sync"
SIZES = {"laptop": {"width": 1366, "height": 768}, "phone": {"width": 390, "height": 844}}


@pytest.fixture(scope="session")
def browser():
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium")
    assert chromium is not None, "chromium is not installed: `make test-lesson` installs it"
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=chromium, args=_QUIET.split())
        yield running
        running.close()


@pytest.fixture(scope="session")
def lesson_file(tmp_path_factory):
    """The page of the shipped case, its blade run in at 35 deg."""
    import libblade as lb

    path = tmp_path_factory.mktemp("page") / "lesson.html"
    lb.write_lesson(
        lb.example_case("folding_carton_water").replace({"setting.set_angle": "35 deg"}), path, engine=ENGINE
    )
    return path


@pytest.fixture
def opened(browser, lesson_file):
    """Opens the page from its file with the network off; fails on console errors and on anything asked of a network."""
    contexts, wrong = [], []

    def open_page(size="laptop", **options):
        context = browser.new_context(viewport=SIZES[size], offline=True, **{"reduced_motion": "reduce", **options})
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: wrong.append(message.text) if message.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("request", lambda request: None if request.url.startswith("file:") else wrong.append(request.url))
        page.goto(lesson_file.as_uri())
        page.wait_for_function("document.querySelector('#nip svg') !== null")
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not wrong
