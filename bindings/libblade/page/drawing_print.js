// What gets through and what it does to the print, and the curve over the angle. Needs drawing.js.
"use strict";

const drawingPrint = (() => {
  const { element, rect, line, text, polyline, significant, COLOUR } = drawing;

  // Two bars to one scale: ink left on the lands, run in and now.
  function bars(answer, runIn, box) {
    const films = [["run in", runIn], ["now", answer.ink.on_lands]];
    const most = Math.max(...films.map(([, film]) => film || 0), 0.5e-6);
    const room = box.width - 62 - 78;
    return text(box.x, box.y + 14, "Ink left on the lands", { "font-weight": 600 })
      + films.map(([name, film], i) => {
        const y = box.y + 26 + 34 * i;
        if (film === null) return text(box.x, y + 18, `${name}: not known`, { fill: COLOUR.quiet });
        const wide = Math.max((film / most) * room, 2);
        return text(box.x, y + 18, name) + rect(box.x + 56, y, wide, 24, { fill: i ? COLOUR.film : COLOUR.ink, stroke: COLOUR.film })
          + text(box.x + 62 + wide, y + 18, `${significant(film * 1e6)} µm`, { "font-weight": 700 });
      }).join("");
  }

  // The grey that reflects 10^-D of white (ISO 5-4), in the sRGB curve (IEC 61966-2-1, from memory).
  function grey(density) {
    const r = 10 ** -density;
    const v = Math.round(255 * (r <= 0.0031308 ? 12.92 * r : 1.055 * r ** (1 / 2.4) - 0.055));
    return `rgb(${v},${v},${v})`;
  }

  function patches(answer, box) {
    const print = answer.print;
    const half = Math.min(box.width / 2, 130);
    const patch = (x, density, name) => rect(x, box.y + 24, half, 44, { fill: grey(density) })
      + text(x + half / 2, box.y + 51, density.toFixed(2), { fill: "#ffffff", "text-anchor": "middle", "font-weight": 600, "font-size": 16 })
      + text(x + half / 2, box.y + 86, name, { "text-anchor": "middle", "font-size": 13 });
    return text(box.x, box.y + 14, "Density of a solid", { "font-weight": 600 })
      + patch(box.x, print.approved_density, "approved") + patch(box.x + half, print.density, "now");
  }

  // How much of what an eye needs to tell this print from the approved one.
  function gauge(answer, box) {
    const most = 4, print = answer.print;
    const X = (v) => box.x + (Math.min(v, most) / most) * box.width;
    const colour = print.visible ? COLOUR.lands : COLOUR.quiet;
    const words = print.visible ? `seen: ${print.tone}` : Math.abs(print.contrast) < 0.005 ? "no change" : `${print.tone}, not seen`;
    return text(box.x, box.y + 14, "Beside the approved print", { "font-weight": 600 })
      + rect(box.x, box.y + 34, box.width, 16, { fill: COLOUR.roll }) + rect(box.x, box.y + 34, X(print.visibility) - box.x, 16, { fill: colour })
      + line(X(1), box.y + 26, X(1), box.y + 58, { "stroke-width": 2.5 })
      + text(X(1) + 6, box.y + 31, "an eye sees it from here on", { "font-size": 13 })
      + text(box.x, box.y + 78, words, { fill: colour, "font-weight": 700, "font-size": 17 })
      + text(box.x + box.width, box.y + 78, `contrast ${Math.abs(Math.round(100 * print.contrast))} %`, { "text-anchor": "end" });
  }

  // options: width [px], label (read aloud). runIn: film on the lands of the run-in state [m], null when not known.
  function strip(answer, runIn, options = {}) {
    const { width = 960, label = "The print" } = options;
    const wide = width > 640;
    const third = wide ? (width - 64) / 3 : width;
    const place = (i) => (wide ? { x: i * (third + 32), y: 0, width: third } : { x: 0, y: i * 100, width: third });
    const height = wide ? 94 : 288;
    return element("svg", { xmlns: "http://www.w3.org/2000/svg", viewBox: `0 0 ${width} ${height}`, width, height, role: "img",
      "aria-label": label, "font-family": "system-ui, sans-serif" },
    bars(answer, runIn, place(0)) + patches(answer, place(1)) + gauge(answer, place(2)));
  }

  // Film over the set angle with this facet. list: [[angle (deg), film (m) or null], ...]; marks: {now, ranIn} (deg or null).
  // inset: how far the thumb of the slider below stays off the ends [px].
  function curve(list, limits, marks, options = {}) {
    const { width = 300, height = 66, inset = 11, label = "Ink under the blade at each angle" } = options;
    const X = (a) => inset + ((a - limits[0]) / (limits[1] - limits[0])) * (width - 2 * inset);
    const known = list.filter(([, film]) => film !== null);
    if (known.length < 2) return "";
    const most = Math.max(...known.map(([, film]) => film));
    const Y = (film) => height - 2 - (film / most) * (height - 22);
    const runs = [[]];
    for (const [angle, film] of list) {
      if (film === null) runs.push([]);
      else runs[runs.length - 1].push([X(angle), Y(film)]);
    }
    const [peak] = known.reduce((a, b) => (b[1] > a[1] ? b : a));
    const right = X(peak) > width / 2;
    let out = runs.filter((run) => run.length > 1).map((run) => polyline(run, { stroke: COLOUR.film, "stroke-width": 2.5 })).join("")
      + line(0, height - 1, width, height - 1, { stroke: COLOUR.rule });
    out += text(X(peak) + (right ? -8 : 8), 13, `${significant(most * 1e6)} µm`, { fill: COLOUR.film, "font-size": 13, "font-weight": 600,
      "text-anchor": right ? "end" : "start" });
    if (marks.ranIn !== null) out += line(X(marks.ranIn), 4, X(marks.ranIn), height, { stroke: COLOUR.quiet, "stroke-dasharray": "3 3" });
    const now = known.find(([angle]) => Math.abs(angle - marks.now) < 1e-9);
    if (now) out += element("circle", { cx: X(now[0]), cy: Y(now[1]), r: 5, fill: COLOUR.lands, stroke: "#fff", "stroke-width": 1.5 });
    return element("svg", { viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": label,
      "font-family": "system-ui, sans-serif" }, out);
  }

  return { strip, curve };
})();
