"""Nothing is cut off, nothing overlaps, and the page can be read by those who do not see it."""

import re

import pytest

# Text that runs out of its element, or out of the window.
_CUT = """() => [...document.querySelectorAll('body *')].filter((e) => {
    if (e.closest('svg') || e.closest('textarea') || !e.getClientRects().length) return false;
    const box = e.getBoundingClientRect();
    const out = box.right > innerWidth + 0.5 || box.left < -0.5;
    const over = e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline' && e.clientWidth > 0;
    return !e.closest('.scroll') && (out || over);
}).map((e) => e.tagName + '#' + e.id + ' ' + e.textContent.slice(0, 40))"""
# Texts of a picture that leave it or lie on one another.
_CLASH = """() => [...document.querySelectorAll('figure svg, #curve svg')].flatMap((svg) => {
    const frame = svg.getBoundingClientRect(), found = [];
    const texts = [...svg.querySelectorAll('text, #nip circle')].map((t) => [t.textContent || 'a mark', t.getBoundingClientRect()]);
    texts.forEach(([words, box], i) => {
        const across = box.left < frame.left - 1 || box.right > frame.right + 1;
        if (across || box.top < frame.top - 1 || box.bottom > frame.bottom + 1) found.push('out: ' + words);
        for (const [other, b] of texts.slice(i + 1)) {
            const wide = Math.min(box.right, b.right) - Math.max(box.left, b.left);
            const high = Math.min(box.bottom, b.bottom) - Math.max(box.top, b.top);
            if (wide > 1 && high > 5) found.push(words + ' on ' + other);
        }
    });
    return found;
})"""


def number(page, name, value):
    page.fill(f"#{name}-number", str(value))
    page.press(f"#{name}-number", "Enter")


def guided(page, step, guess=None):
    page.click("#guided")
    for _ in range(step - 1):
        page.click("#next")
    if guess:
        page.click(f"[data-guess={guess}]")


def trailing(page):
    page.check("input[value=trailing]")
    number(page, "angle", 36)


def lying_flat(page):
    page.check("input[value=trailing]")
    number(page, "load", 1900)
    number(page, "angle", 15)


def opened_up(page):
    page.click("#numbers summary")
    page.click("#file summary")
    page.fill("#case-text", "{}")
    page.click("#paste")


STATES = {
    "run in": lambda page: None,
    "lower": lambda page: number(page, "angle", 33),
    "flat": lambda page: number(page, "angle", 20),
    "steep": lambda page: number(page, "angle", 45),
    "trailing": trailing,
    "curing ink": lambda page: (page.select_option("#ink", "curing"), number(page, "angle", 31)),
    "coarse roll": lambda page: (page.select_option("#roll", "coarse"), number(page, "angle", 36)),
    "not solved": lying_flat,
    "asked": lambda page: guided(page, 2),
    "answered": lambda page: guided(page, 3, "more"),
    "all results": lambda page: guided(page, 8),
    "details": opened_up,
}


@pytest.mark.parametrize("size", ["laptop", "phone"])
@pytest.mark.parametrize("state", STATES)
def test_nothing_is_cut_off_or_overlaps(opened, state, size):
    page = opened(size)
    STATES[state](page)
    page.wait_for_timeout(400)
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert page.evaluate(_CUT) == []
    assert page.evaluate(_CLASH) == []


@pytest.mark.parametrize("state", ["run in", "lower", "not solved", "asked", "answered", "all results", "details"])
def test_accessibility(opened, state):
    from axe_playwright_python.sync_playwright import Axe

    page = opened()
    STATES[state](page)
    found = [v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert [(v["id"], [node["html"][:120] for node in v["nodes"]]) for v in found] == []


def test_the_scan_finds_what_is_wrong(opened):
    from axe_playwright_python.sync_playwright import Axe

    page = opened()
    page.evaluate("document.querySelector('label[for=ink]').remove()")
    assert "select-name" in [v["id"] for v in Axe().run(page).response["violations"]]


def test_the_magnification_that_is_told_is_the_one_drawn(opened):
    page = opened()
    number(page, "angle", 33)
    lengths = page.evaluate("""() => Object.fromEntries(['1 mm', '100 µm', '5 µm'].map((words) => {
        const text = [...document.querySelectorAll('#nip text')].find((t) => t.textContent === words);
        const at = (name) => Number(text.previousElementSibling.getAttribute(name));
        return [words, Math.hypot(at('x2') - at('x1'), at('y2') - at('y1'))];
    }))""")
    told = " ".join(page.locator("#nip text").all_text_contents())
    across, up = (float(v) for v in re.search(r"(\S+) times the blade picture across, (\S+) times up", told).groups())
    stretched = float(re.search(r"stretched (\S+) times", told)[1])
    px = {"1 mm": lengths["1 mm"] / 1e-3, "100 µm": lengths["100 µm"] / 1e-4, "5 µm": lengths["5 µm"] / 5e-6}
    # Told to two figures.
    assert across == pytest.approx(px["100 µm"] / px["1 mm"], rel=0.05)
    assert up == pytest.approx(px["5 µm"] / px["1 mm"], rel=0.05)
    assert stretched == pytest.approx(px["5 µm"] / px["100 µm"], rel=0.05)


def test_pictures_are_told_in_words(opened):
    page = opened()
    number(page, "angle", 33)
    film = page.evaluate("drawing.significant(lesson.page.shown.now.ink.on_lands * 1e6)")
    for picture in ("#nip svg", "#strip svg"):
        assert f"{film} µm" in page.get_attribute(picture, "aria-label")
    page.wait_for_selector("#curve svg")
    assert "most ink passes at" in page.get_attribute("#curve svg", "aria-label")
