// The page: controls, what is shown, what is asked. Numbers come from the engine alone.
"use strict";

const lesson = (() => {
  const byId = (name) => document.getElementById(name);
  const page = { state: null, shown: null, pending: null, step: null, answered: false, timing: {} };
  const kept = new Map(); // answers by request
  let engine = null, home = null, curveTurn = 0;

  function ask(request) {
    const key = JSON.stringify(request);
    if (!kept.has(key)) {
      if (kept.size > 400) kept.clear();
      kept.set(key, JSON.parse(engine.answer(key)));
    }
    return kept.get(key);
  }

  function solve(state) {
    const runIn = setting.runIn(state) && ask(setting.runIn(state));
    const approved = setting.approved(state) && ask(setting.approved(state));
    const ink = words.solved(approved) ? approved.ink.carried : null;
    const request = setting.now(state, ink);
    return { state, runIn, request, now: ask(request) };
  }

  // ---- showing

  // moving: whether the blade is seen on its way.
  function show(state, moving = false) {
    const began = performance.now();
    const from = page.state;
    motion.stop();
    page.state = state;
    page.pending = null;
    page.shown = solve(state);
    page.timing.solve = performance.now() - began;
    say();
    if (moving && motion.possible(from, state)) motion.play(from, state, (between) => draw(solve(between)));
    else draw(page.shown);
    fillControls(state);
    fillRest();
    page.timing.response = performance.now() - began;
    later();
  }

  function say() {
    const { state, runIn, now } = page.shown;
    byId("judged").textContent = "";
    byId("sentence").textContent = words.result(now, runIn, setting.moved(state), setting.told(state));
    byId("why").textContent = words.solved(now) ? [words.why(now), words.rebed(now)].filter(Boolean).join(" ") : "";
    byId("ask").hidden = true;
  }

  function draw({ runIn, now }) {
    const pictures = byId("pictures");
    const style = getComputedStyle(pictures);
    const width = Math.floor(pictures.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight));
    if (width <= 0) return; // out of sight
    const film = words.solved(runIn) ? runIn.ink.on_lands : null;
    const there = words.solved(now);
    byId("nip").innerHTML = there ? drawing.nip(now, { width, layout: width > 640 ? "wide" : "tall",
      label: words.picture(now) })
      : '<p id="missing">No picture: the model has no solved state to show here.</p>';
    byId("strip").innerHTML = there ? drawingPrint.strip(now, film, { width, label: words.print(now, film) }) : "";
  }

  function fillRest() {
    const { now, runIn, state } = page.shown;
    const there = words.solved(now);
    byId("numbers").querySelector("tbody").innerHTML = numbers.table(now, runIn);
    const items = there ? words.flags(now) : [words.failure(now)];
    if (there && now.point.other_branch_exists) {
      items.push("A second state exists at this setting; which one a press is in depends on how it got there.");
    }
    byId("flags").replaceChildren(...items.map((item) => Object.assign(document.createElement("li"),
      { textContent: item })));
    byId("other-row").hidden = !(state.start === "riding" || (there && now.point.other_branch_exists));
    byId("other").textContent = state.start === "riding" ? "Back to the usual state" : "Show the other state";
    byId("case-text").value = JSON.stringify(now.case || state.base, null, 2);
    byId("file-status").textContent = "";
  }

  // ---- controls

  function fillControls(state) {
    for (const name of ["angle", "load", "speed"]) {
      byId(name).value = state[name];
      if (document.activeElement !== byId(`${name}-number`)) byId(`${name}-number`).value = state[name];
    }
    for (const name of ["orientation",
      "holding"]) document.querySelector(`input[name=${name}][value=${state[name]}]`).checked = true;
    byId("ink").value = state.ink;
    byId("roll").value = state.roll;
    byId("step").textContent = state.step
      ? `${state.step > 0 ? "+" : "−"}${Math.round(100 * Math.abs(state.step))} % ${state.holding === "fixed" ? "advance" : "load"}` : "as set";
    byId("harder").disabled = state.step > 0.45;
    byId("softer").disabled = state.step < -0.45;
  }

  const predicting = () => byId("predict").checked || (page.step !== null && !page.answered
    && Boolean(guide.steps[page.step].to));

  // A change: shown at once, or after somebody has said what comes out.
  function propose(next, moving = false) {
    if (!predicting()) return show(next, moving);
    page.pending = next;
    fillControls(next);
    byId("question").textContent = `${setting.told(next)}: more, less or the same ink under the blade as in the picture?`;
    byId("ask").hidden = false;
    curveTurn += 1;
    byId("curve").innerHTML = "";
    return undefined;
  }

  function reveal(guess) {
    const before = page.shown.now;
    const next = page.pending;
    page.answered = true;
    show(next, true);
    if (guess) byId("judged").textContent = words.judged(guess, before, page.shown.now, page.shown.runIn).sentence;
    byId(page.step === null ? "sentence" : "next").focus({ preventScroll: true }); // the button that was pressed is gone
    byId("sentence").scrollIntoView({ block: "nearest" });
  }

  function later() {
    curveTurn += 1;
    const turn = curveTurn, { state } = page.shown;
    byId("curve").innerHTML = "";
    if (predicting() || page.pending) return;
    const [low, high] = [Number(byId("angle").min), Number(byId("angle").max)];
    const angles = [...new Set([...Array.from({ length: 2 * (high - low) + 1 }, (_, i) => low + i / 2),
      state.angle])].filter((a) => a >= low && a <= high)
      .sort((a, b) => a - b);
    const list = [];
    const go = () => {
      if (turn !== curveTurn) return;
      const until = performance.now() + 12;
      while (list.length < angles.length && performance.now() < until) {
        const answer = ask(setting.atAngle(state, angles[list.length]));
        list.push([angles[list.length], words.solved(answer) ? answer.ink.on_lands : null]);
      }
      if (list.length < angles.length) return void setTimeout(go, 0);
      page.curve = list;
      byId("curve").innerHTML = drawingPrint.curve(list, [low, high], { now: state.angle, ranIn: state.ranIn.facet
        ? null : state.ranIn.angle },
        { width: byId("angle").clientWidth, inset: 8, label: words.curve(list) });
    };
    setTimeout(go, 120);
  }

  const current = () => page.pending || page.state;
  const change = (part, moving = false) => propose({ ...current(), start: "resting", ...part }, moving);

  function listen() {
    for (const name of ["angle", "load", "speed"]) {
      byId(name).addEventListener("input", () => {
        if (predicting()) byId(`${name}-number`).value = byId(name).value;
        else change({ [name]: Number(byId(name).value) });
      });
      byId(name).addEventListener("change", () => {
        if (Number(byId(name).value) !== current()[name]) change({ [name]: Number(byId(name).value) });
      });
      byId(`${name}-number`).addEventListener("change", (event) => {
        if (event.target.value !== "") change({ [name]: event.target.valueAsNumber }, true);
      });
    }
    for (const name of ["orientation", "holding"]) document.querySelectorAll(`input[name=${name}]`).forEach((radio) =>
      radio.addEventListener("change", () => change({ [name]: radio.value })));
    for (const name of ["ink", "roll"]) byId(name).addEventListener("change", () => change({ [name]: byId(name).value }));
    const step = (by) => change({ step: Math.round((current().step + by) * 100) / 100 }, true);
    byId("harder").addEventListener("click", () => step(0.1));
    byId("softer").addEventListener("click", () => step(-0.1));
    byId("bed").addEventListener("click", () => change({ ranIn: { angle: current().angle, load: current().load },
      step: 0 }));
    byId("reset").addEventListener("click", () => { page.answered = true; show(home); });
    byId("other").addEventListener("click", () => propose({ ...current(), start: current().start === "riding"
      ? "resting" : "riding" }));
    byId("predict").addEventListener("change", () => { if (page.pending) show(page.pending); else later(); });
    document.querySelectorAll("[data-guess]").forEach((button) => button.addEventListener("click",
      () => reveal(button.dataset.guess)));
    byId("free").addEventListener("click", () => mode(null));
    byId("guided").addEventListener("click", () => mode(0));
    byId("back").addEventListener("click", () => mode(page.step - 1));
    byId("next").addEventListener("click", () => mode(page.step + 1 < guide.steps.length ? page.step + 1 : null));
    byId("copy").addEventListener("click", copy);
    byId("paste").addEventListener("click", paste);
    let width = window.innerWidth;
    window.addEventListener("resize",
      () => { if (window.innerWidth !== width) { width = window.innerWidth; draw(page.shown); later(); } });
  }

  // ---- the ten-minute run

  function mode(step) {
    page.step = step;
    page.answered = false;
    page.pending = null;
    byId("free").setAttribute("aria-pressed", String(step === null));
    byId("guided").setAttribute("aria-pressed", String(step !== null));
    byId("guide").hidden = step === null;
    document.body.classList.toggle("summing", step !== null && Boolean(guide.steps[step].summary));
    if (step === null) return show(home);
    const scene = guide.steps[step];
    byId("step-count").textContent = `Step ${step + 1} of ${guide.steps.length}`;
    byId("step-title").textContent = scene.title;
    byId("step-say").textContent = scene.say;
    byId("back").disabled = step === 0;
    byId("step-list").hidden = !scene.summary;
    byId("next").textContent = step + 1 < guide.steps.length ? "Next" : "Finish";
    show(guide.start(home, scene));
    if (scene.to) propose(guide.end(home, scene));
    if (scene.summary) summary();
    return undefined;
  }

  function summary() {
    byId("step-list").replaceChildren(...guide.steps.filter((scene) => scene.to).map((scene) => {
      const { now, runIn, state } = solve(guide.end(home, scene));
      const item = document.createElement("li");
      const did = setting.told(state).replace(/^./, (c) => c.toLowerCase());
      item.textContent = `${scene.label}: ${words.result(now, runIn, setting.moved(state), did)}`;
      return item;
    }));
  }

  // ---- the case as text

  async function copy() {
    const box = byId("case-text");
    box.select();
    let done = false;
    try {
      await navigator.clipboard.writeText(box.value);
      done = true;
    } catch {
      done = document.execCommand("copy");
    }
    byId("file-status").textContent = done ? "Copied." : "Select the text and copy it with the keyboard.";
  }

  function paste() {
    const problems = load(byId("case-text").value);
    byId("problems").replaceChildren(...problems.map((p) => Object.assign(document.createElement("li"),
      { textContent: p })));
    byId("file-status").textContent = problems.length ? "Not used:" : "In use.";
  }

  // Takes a case from its text; returns what is wrong with it.
  function load(text) {
    let base = null;
    try {
      base = JSON.parse(text);
    } catch (error) {
      return [`This is not JSON: ${error.message}`];
    }
    const answer = ask({ case: base });
    if (answer.status === "bad_input") return words.problems(answer);
    if (!words.solved(answer)) return [words.failure(answer)];
    if (answer.case.tip.kind !== "facet") return [`tip.kind = ${answer.case.tip.kind}: this page follows a worn facet, tip.kind "facet"`];
    home = setting.begin(base, answer);
    byId("press").textContent = [base.name, /invented/i.test(base.note || "") ? "invented data"
      : ""].filter(Boolean).join(", ");
    byId("about").textContent = `${base.note || ""} ${answer.particles.note} Density: a solid of 1.40 at the run-in state, and a change of the whole print is `
      + "seen from 10 % contrast on (common practice, no published source). “The same” means within 5 %. The numbers are what the equations give for this case; "
      + "a real press differs. Everything is solved inside this page, nothing is sent.";
    page.step = null;
    byId("guide").hidden = true;
    show(home);
    return [];
  }

  function fillChoices() {
    for (const [name, label] of [["inks", "ink"], ["rolls", "roll"]]) {
      const options = [["case", "as in the case"], ...Object.entries(choices[name]).map(([key, one]) => [key, one.name])];
      byId(label).replaceChildren(...options.map(([value, words]) => new Option(words, value)));
    }
  }

  async function boot() {
    fillChoices();
    listen();
    try {
      engine = await libbladeEngine();
      const problems = load(byId("case").textContent);
      if (problems.length) byId("sentence").textContent = problems.join(" ");
    } catch (error) {
      byId("sentence").textContent = `The model could not be started: ${error.message}`;
      throw error;
    }
    page.timing.first = performance.now();
  }

  boot();
  return { page, ask };
})();
