// The lesson's drawing in a notebook: sliders and buttons ask, Python solves, `drawing` draws. The drawing stands above in the same text.
export default {
  render({ model, el }) {
    const SLIDERS = [
      ["set_angle_deg", "Set angle", "°", 15, 60, 0.25],
      ["line_load", "Line load", "N/m", 20, 300, 1],
      ["speed_m_per_min", "Roll speed", "m/min", 20, 800, 5],
    ];
    const make = (tag, properties = {}, parent = el) => parent.appendChild(Object.assign(document.createElement(tag), properties));
    const shown = {};
    const controls = make("div");
    controls.style.cssText = "display:flex;flex-wrap:wrap;gap:1rem;align-items:end;margin:0.5rem 0";
    const ask = (changes) => {
      model.set("request", { ...model.get("request"), ...changes, number: model.get("request").number + 1 });
      model.save_changes();
    };
    for (const [key, words, unit, min, max, step] of SLIDERS) {
      const label = make("label", {}, controls);
      const value = model.get("request")[key];
      const told = make("span", {}, label);
      label.appendChild(document.createElement("br"));
      const input = make("input", { type: "range", min: Math.min(min, value), max: Math.max(max, value), step, value }, label);
      input.setAttribute("aria-label", `${words}, ${unit}`);
      input.addEventListener("change", () => ask({ [key]: Number(input.value), action: "move" }));
      input.addEventListener("input", () => { told.textContent = `${words} ${input.value} ${unit}`; });
      shown[key] = (v) => { input.value = v; told.textContent = `${words} ${v} ${unit}`; };
    }
    for (const [action, words] of [["bed", "Let it bed here"], ["harder", "Press 5 % harder"], ["softer", "Press 5 % softer"]]) {
      make("button", { type: "button", textContent: words }, controls).addEventListener("click", () => ask({ action }));
    }
    const sentence = make("p");
    sentence.setAttribute("aria-live", "polite");
    const picture = make("div");
    const id = `nip-${Math.random().toString(36).slice(2)}`;

    function draw() {
      const answer = model.get("answer"), words = model.get("sentence");
      for (const [key] of SLIDERS) shown[key](model.get("request")[key]);
      sentence.textContent = words;
      picture.innerHTML = answer.point ? drawing.nip(answer, { width: 960, label: words, id }) : "";
    }
    model.on("change:answer", draw);
    model.on("change:sentence", draw);
    draw();
    return () => { model.off("change:answer", draw); model.off("change:sentence", draw); };
  },
};
