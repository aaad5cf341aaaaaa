// The nip as a picture: an answer of the engine (libblade-lesson-1) becomes the text of an SVG element. Nothing here knows the
// page, so that a notebook can draw with it too.
"use strict";

const drawing = (() => {
  // Okabe & Ito 2008 for what has to be told apart; steel and roll in greys.
  const COLOUR = { text: "#13222e", quiet: "#4b5b68", rule: "#aeb9c2", steel: "#5d6b77", roll: "#d5dade",
    rollEdge: "#6f7c87",
    ink: "#b9ddf3", film: "#0072b2", lands: "#c2500a", paper: "#ffffff", holder: "#38444e" };
  const DEGREES = 180 / Math.PI;
  // Height of the magnified picture over the roll [m]: the first for nearly every state, so that states can be compared.
  const HEIGHTS = [12e-6, 40e-6, 150e-6, 500e-6, 2e-3];

  const escape = (text) => String(text).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;",
    '"': "&quot;" })[c]);
  const element = (tag, attributes, content = "") =>
    `<${tag} ${Object.entries(attributes).map(([k, v]) => `${k}="${escape(v)}"`).join(" ")}>${content}</${tag}>`;
  const round = (v) => Math.round(v * 100) / 100;
  const points = (list) => list.map(([x, y]) => `${round(x)},${round(y)}`).join(" ");
  const polygon = (list, attributes) => element("polygon", { points: points(list), ...attributes });
  const polyline = (list, attributes) => element("polyline", { points: points(list), fill: "none", ...attributes });
  const rect = (x, y, width, height, attributes) =>
    element("rect", { x: round(x), y: round(y), width: round(width), height: round(Math.max(height, 0)), ...attributes });
  const line = (x1, y1, x2, y2, attributes) =>
    element("line", { x1: round(x1), y1: round(y1), x2: round(x2), y2: round(y2), stroke: COLOUR.text, ...attributes });
  // Text on a halo: it may cross a line and stays legible.
  const text = (x, y, words, attributes = {}) =>
    element("text", { x: round(x), y: round(y), fill: COLOUR.text, "font-size": 14, ...attributes }, escape(words));
  const haloed = (x, y, words, attributes = {}) =>
    text(x, y, words, { "paint-order": "stroke", stroke: COLOUR.paper, "stroke-width": 4, "stroke-linejoin": "round",
      ...attributes });

  function significant(value, digits = 2) {
    if (value === 0 || !Number.isFinite(value)) return String(value);
    const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
    return Number(value.toPrecision(digits)).toFixed(Math.min(decimals, 12));
  }

  function arrow(x1, y1, x2, y2, colour, width = 2) {
    const angle = Math.atan2(y2 - y1, x2 - x1);
    const wing = (turn) => [x2 - 9 * Math.cos(angle + turn), y2 - 9 * Math.sin(angle + turn)];
    return line(x1, y1, x2, y2, { stroke: colour, "stroke-width": width })
      + polygon([[x2, y2], wing(0.45), wing(-0.45)], { fill: colour });
  }

  // The blade to scale, in millimetres. Returns the picture and its scale [px/m].
  function blade(answer, box) {
    const shape = answer.blade;
    const side = shape.orientation === "trailing" ? -1 : 1; // where the body lies
    const length = answer.case.blade.free_length;
    const scale = Math.min(box.width / (1.3 * length), (box.height - 62) / (0.98 * length));
    const origin = [box.x + box.width * (side > 0 ? 0.13 : 0.87), box.y + box.height - 62];
    const at = ([x, z]) => [origin[0] + x * scale, origin[1] - z * scale];
    const radius = shape.roll_radius;
    const roll = [];
    for (let i = -60; i <= 60; i += 1) {
      const x = (i / 60) * 1.6 * length;
      roll.push(at([x, Math.sqrt(Math.max(radius * radius - x * x, 0)) - radius]));
    }
    const floor = box.y + box.height + 40;
    let out = polygon([...roll, [roll[120][0], floor], [roll[0][0], floor]], { fill: COLOUR.roll,
      stroke: COLOUR.rollEdge });

    // The holder is a sketch: no size of it is in the model.
    const clamp = shape.mid[0], next = shape.mid[1];
    const pull = Math.hypot(clamp[0] - next[0], clamp[1] - next[1]);
    const u = [(clamp[0] - next[0]) / pull, (clamp[1] - next[1]) / pull], n = [-u[1], u[0]];
    const corner = (along, across) => at([clamp[0] + along * u[0] + across * n[0], clamp[1] + along * u[1]
      + across * n[1]]);
    const [deep, wide] = [0.2 * length, 0.06 * length];
    out += polyline(shape.free_mid.map(at), { stroke: COLOUR.quiet, "stroke-width": 1.5, "stroke-dasharray": "6 5" });
    out += polygon([...shape.roll_side, ...[...shape.away_side].reverse()].map(at), { fill: COLOUR.steel,
      stroke: COLOUR.holder });
    out += polygon([corner(0, wide), corner(deep, wide), corner(deep, -wide), corner(0, -wide)],
      { fill: COLOUR.holder, stroke: COLOUR.holder, "stroke-linejoin": "round" });

    // Both angles are measured from the roll's tangent at the contact.
    const foot = at(shape.contact);
    out += line(foot[0], foot[1], foot[0] + side * 0.86 * length * scale, foot[1], { stroke: COLOUR.quiet,
      "stroke-dasharray": "2 4" });
    const arc = (angle, share, words, colour) => {
      const r = share * length * scale;
      const end = [foot[0] + side * r * Math.cos(angle), foot[1] - r * Math.sin(angle)];
      const label = [foot[0] + side * (r + 7) * Math.cos(angle * 0.42), foot[1] - (r + 7) * Math.sin(angle * 0.42) + 5];
      return element("path", { d: `M${round(foot[0] + side * r)} ${round(foot[1])}A${round(r)} ${round(r)} 0 0 ${side > 0 ? 0 : 1} ${round(end[0])} ${round(end[1])}`,
        fill: "none", stroke: colour, "stroke-width": 2 })
        + haloed(label[0], label[1], words, { fill: colour, "font-weight": 600, "text-anchor": side > 0 ? "start"
          : "end" });
    };
    out += arc(shape.set_angle, 0.66, `set ${(shape.set_angle * DEGREES).toFixed(1)}°`, COLOUR.text);
    out += arc(answer.point.effective_angle, 0.27, `runs at ${(answer.point.effective_angle * DEGREES).toFixed(1)}°`,
      COLOUR.lands);

    const left = box.x + 8, right = box.x + box.width - 8, low = box.y + box.height - 10;
    const speed = Math.round(answer.case.setting.surface_speed * 60);
    const shaft = box.x + box.width / 2 - 70;
    out += arrow(shaft - 40, low - 5, shaft, low - 5, COLOUR.text) + text(shaft + 8, low, `roll surface, ${speed} m/min`);
    const ink = side > 0 ? left : right;
    out += haloed(ink, origin[1] - (side > 0 ? 58 : 96), "ink", { fill: COLOUR.film, "font-weight": 600,
      "text-anchor": side > 0 ? "start" : "end" });
    if (side > 0) out += arrow(left, origin[1] - 48, foot[0] - 4, origin[1] - 10, COLOUR.film);
    if (side < 0) out += haloed(right, origin[1] - 82, "comes from the left", { fill: COLOUR.film, "font-size": 13,
      "text-anchor": "end" });
    const bar = 1e-3 * scale, start = side > 0 ? right - bar : left;
    out += line(start, box.y + 34, start + bar, box.y + 34, { "stroke-width": 3 })
      + text(start + bar / 2, box.y + 52, "1 mm", { "text-anchor": "middle", "font-size": 13 });
    return { picture: out, scale };
  }

  // Film and lands: what carries the load, over the same x as the section below.
  function pressure(answer, box, X) {
    const s = answer.section;
    const top = Math.max(...s.film_pressure, ...s.asperity_pressure);
    const limit = [0.5e6, 1e6, 2e6, 5e6, 10e6, 20e6, 50e6, 1e8, 1e9].find((v) => v >= top) || 1e10;
    const base = box.y + box.height;
    const Y = (p) => base - (p / limit) * (box.height - 24);
    const inside = s.x.map((x, i) => i).filter((i) => X(s.x[i]) >= box.x && X(s.x[i]) <= box.x + box.width);
    const curve = (values, colour, dash) => {
      const list = inside.map((i) => [X(s.x[i]), Y(values[i])]);
      if (!list.length) return "";
      return polygon([[list[0][0], base], ...list, [list[list.length - 1][0], base]], { fill: colour,
        "fill-opacity": 0.16 })
        + polyline(list, { stroke: colour, "stroke-width": 2.5, ...(dash ? { "stroke-dasharray": dash } : {}) });
    };
    const share = (v) => `${Math.round(100 * v)} %`;
    const p = answer.point;
    const ink = p.film_load_share + p.wedge_load_share;
    return line(box.x, base, box.x + box.width, base, { stroke: COLOUR.rule })
      + line(box.x, Y(limit), box.x + 6, Y(limit), { stroke: COLOUR.rule })
      + text(box.x + 9, Y(limit) + 5, `${significant(limit / 1e6, 1)} MPa`, { fill: COLOUR.quiet, "font-size": 13 })
      + curve(s.film_pressure, COLOUR.film) + curve(s.asperity_pressure, COLOUR.lands, "7 4")
      + haloed(box.x + box.width, box.y + 12, `ink carries ${share(ink)}`, { fill: COLOUR.film, "font-weight": 600,
        "text-anchor": "end" })
      + haloed(box.x + box.width, box.y + 31, `lands carry ${share(p.asperity_load_share)}`, { fill: COLOUR.lands,
        "font-weight": 600, "text-anchor": "end" })
      + text(box.x, box.y + 12, "Pressure under the tip", { fill: COLOUR.text, "font-weight": 600 });
  }

  // The facet over the engraved roll: heights stretched against widths.
  function section(answer, box, X, kz, top) {
    const s = answer.section, facet = answer.facet, cells = answer.cells;
    const ground = box.y + top * kz;
    const Z = (z) => ground - z * kz;
    const [left, right, bottom] = [box.x, box.x + box.width, box.y + box.height];
    let out = rect(left, ground, box.width, bottom - ground, { fill: COLOUR.roll });
    const from = s.facet_from === null ? 0 : s.facet_from, to = s.facet_to === null ? 0 : s.facet_to;
    const gapAt = (i) => [X(s.x[i]), Z(s.gap[i] * (1 - s.void_fraction[i]))];
    const r = 6 * answer.case.tip.edge_radius;
    const under = s.x.map((x, i) => i).filter((i) => s.x[i] >= from + r && s.x[i] <= to - r);
    // The front face bounds the ink of a full chamber; it goes on with the facet's first point.
    const face = facet.length ? [[X(from), Z(facet.gap_ink_end)]] : [[X(0), Z(top)]];
    if (facet.length) face.unshift([X(from - 10 * top * Math.cos(facet.face_angle_ink)), Z(facet.gap_ink_end
      + 10 * top * Math.sin(facet.face_angle_ink))]);
    const flood = answer.ink.arriving === null ? face[0][1] : Z(answer.ink.arriving);
    const full = [[left, ground], [left, flood], ...(answer.ink.arriving === null ? face : [[X(from), flood]]),
      ...under.map(gapAt), [X(to), ground]];
    out += polygon(full, { fill: COLOUR.ink });
    if (cells.pitch) out += pits(cells, X, ground, kz, left, right);
    // What has passed: the film on the lands, drawn on to the right.
    const film = Math.max(answer.ink.on_lands * kz, 1);
    out += rect(X(to), ground - film, right - X(to), film, { fill: COLOUR.film });
    out += body(answer, X, Z, box, top);
    out += line(left, ground, right, ground, { stroke: COLOUR.rollEdge, "stroke-width": 1 });
    const speak = `${significant(answer.ink.on_lands * 1e6)} µm`;
    out += haloed(right - 6, ground - film - 24, speak, { fill: COLOUR.film, "font-weight": 700, "font-size": 18,
      "text-anchor": "end" })
      + haloed(right - 6, ground - film - 8, "gets through", { fill: COLOUR.film, "font-size": 13, "text-anchor": "end" })
      + text(left + 6, box.y + 20, answer.ink.arriving === null ? "ink" : "ink, starved", { fill: COLOUR.film,
        "font-weight": 600 });
    return out;
  }

  function pits(cells, X, ground, kz, left, right) {
    let out = "";
    const start = Math.floor((left - X(0)) / (X(cells.pitch) - X(0))) - 1;
    for (let k = start; X(k * cells.pitch) < right; k += 1) {
      const a = Math.max(X((k + 0.5) * cells.pitch - cells.opening / 2), left);
      const b = Math.min(X((k + 0.5) * cells.pitch + cells.opening / 2), right);
      if (b <= a) continue;
      const deep = cells.depth * kz, level = deep * (1 - cells.fill);
      out += rect(a, ground, b - a, deep, { fill: COLOUR.paper }) + rect(a, ground + level, b - a, deep - level,
        { fill: COLOUR.ink });
    }
    return out;
  }

  // Facet and the faces beyond it; a new edge has none and is drawn by its gap.
  function body(answer, X, Z, box, top) {
    const s = answer.section, facet = answer.facet;
    const reach = 10 * top, from = s.facet_from, to = s.facet_to;
    if (!facet.length) {
      const outline = s.x.map((x, i) => [X(x), Z(Math.min(s.gap[i], top))]);
      return polygon([[outline[0][0], box.y], ...outline, [outline[outline.length - 1][0], box.y]], { fill: COLOUR.steel });
    }
    const a = [from, facet.gap_ink_end], b = [to, facet.gap_far_end];
    const aUp = [a[0] - reach * Math.cos(facet.face_angle_ink), a[1] + reach * Math.sin(facet.face_angle_ink)];
    const bUp = [b[0] + reach * Math.cos(facet.face_angle_far), b[1] + reach * Math.sin(facet.face_angle_far)];
    const at = ([x, z]) => [X(x), Z(z)];
    const r = 6 * answer.case.tip.edge_radius; // the rounding, which the film sees with an effective slope, is left out
    const under = s.x.map((x, i) => i).filter((i) => s.x[i] > from + r && s.x[i] < to - r).map((i) => [X(s.x[i]),
      Z(s.gap[i])]);
    const worn = facet.tilt;
    const words = Math.abs(worn) * DEGREES < 0.005 ? "worn facet: parallel"
      : `worn facet: ${worn > 0 ? "open to the ink" : "closed to the ink"}, ${significant(Math.abs(worn) * DEGREES)}°`;
    return polygon([at(aUp), at(a), ...under, at(b), at(bUp)], { fill: COLOUR.steel })
      + polyline([at(a), ...under, at(b)], { stroke: COLOUR.text, "stroke-width": 2.5 })
      + haloed(box.x + box.width / 2 + 8, box.y + 20, words, { "font-weight": 600, "text-anchor": "middle" });
  }

  // What a particle does once it is in, the worst first.
  const DEEDS = { chips: "chips roll", scores: "scores roll", nicks: "nicks blade", props: "props blade",
    dents: "dents", stays: "stays in",
    smears: "smears", crumbles: "crumbles" };
  function deed(particle) {
    if (!particle.enters) return "turned away";
    if (particle.passes) return "passes";
    const worst = Object.keys(DEEDS).find((name) => particle.does.includes(name));
    return worst ? `gets in, ${DEEDS[worst]}` : "gets in";
  }

  // Invented kinds of particle: which get in, and what the model says they then do.
  function particles(answer, box, columns) {
    const list = answer.particles.list;
    const wide = box.width / columns;
    const size = columns > 2 ? 13 : 12;
    const mark = { in: COLOUR.lands, through: COLOUR.film, out: COLOUR.quiet };
    let out = text(box.x, box.y + 12, "Particles at the mouth, µm (invented)", { "font-weight": 600 });
    list.forEach((particle, i) => {
      const x = box.x + (i % columns) * wide, y = box.y + 34 + Math.floor(i / columns) * 42;
      const colour = particle.enters ? (particle.passes ? mark.through : mark.in) : mark.out;
      const shape = particle.shape === "flake" ? rect(x + 1, y - 5, 16, 6, { fill: particle.enters ? colour : "none",
        stroke: colour, "stroke-width": 2 })
        : element("circle", { cx: round(x + 9), cy: round(y - 2), r: 7, fill: particle.enters ? colour : "none",
          stroke: colour, "stroke-width": 2 });
      out += shape + text(x + 24, y + 3, `${particle.name} ${significant(particle.size * 1e6)}`, { "font-size": size })
        + text(x + 24, y + 19, deed(particle), { "font-size": size, fill: colour, "font-weight": particle.enters ? 700 : 400 });
    });
    return out;
  }

  // The whole picture. options: width [px], layout "wide" (side by side) or "tall", label (read aloud in place of the picture),
  // id (of its clips, another one for each picture on a page).
  function nip(answer, options = {}) {
    const { width = 960, layout = "wide", label = "Doctor blade on its roll", id = "nip" } = options;
    const wide = layout === "wide";
    const first = wide ? { x: 0, y: 0, width: Math.round(width * 0.4), height: 414 } : { x: 0, y: 0, width, height: 300 };
    const x = wide ? first.width + 18 : 0, y = wide ? 0 : first.height + 14;
    const inner = width - x;
    const columns = inner > 480 ? 3 : 2;
    const press = { x, y, width: inner, height: 96 };
    const nipBox = { x, y: y + 104, width: inner, height: 170 };
    const below = nipBox.y + nipBox.height;
    const drop = inner < 460 ? 24 : 0; // the words stand below the scale bar where there is no room beside it
    const grains = { x, y: below + 46 + drop, width: inner, height: 34
      + 42 * Math.ceil(answer.particles.list.length / columns) };
    const height = Math.max(first.y + first.height, grains.y + grains.height - 6);
    if (wide) first.height = height;
    const big = blade(answer, first);
    const reach = 0.8 * Math.max(answer.facet.length || 0, 75e-6);
    const least = Math.min(...answer.section.gap);
    const top = HEIGHTS.find((v) => v > 2 * least) || 4 * least;
    const kx = inner / (2 * reach), kz = nipBox.height / (top + 1.3 * (answer.cells.depth || 2e-6));
    const X = (v) => x + inner / 2 + v * kx;
    const bar = 100e-6 * kx, step = 5e-6 * (top / HEIGHTS[0] > 2 ? Number((top / HEIGHTS[0]).toPrecision(1)) : 1),
      tall = step * kz;
    const note = `${significant(kx / big.scale)} times the blade picture across, ${significant(kz / big.scale)} times up:`;
    const scales = text(x, below + 16 + drop, note, { "font-size": 13, fill: COLOUR.quiet })
      + text(x, below + 32 + drop, `heights are stretched ${significant(kz / kx)} times`, { "font-size": 13,
        fill: COLOUR.quiet })
      + line(x + inner - bar, below + 8, x + inner, below + 8, { "stroke-width": 3 })
      + text(x + inner, below + 25, "100 µm", { "font-size": 13, "text-anchor": "end" })
      + line(x + 3, nipBox.y + 34, x + 3, nipBox.y + 34 + tall, { "stroke-width": 3 })
      + text(x + 9, nipBox.y + 34 + tall / 2 + 5, `${Math.round(step * 1e6)} µm`, { "font-size": 13 });
    const clip = (name, box) => element("clipPath", { id: name }, rect(box.x, box.y, box.width, box.height, {}));
    const body = clip(`${id}-blade`, first) + clip(`${id}-section`, nipBox)
      + rect(first.x, first.y, first.width, first.height, { fill: COLOUR.paper })
      + element("g", { "clip-path": `url(#${id}-blade)` }, big.picture)
      + text(first.x + (answer.blade.orientation === "trailing" ? first.width - 8 : 8), first.y + 20, "The blade, to scale",
        { "font-weight": 600, "text-anchor": answer.blade.orientation === "trailing" ? "end" : "start" })
      + pressure(answer, press, X)
      + element("g", { "clip-path": `url(#${id}-section)` }, section(answer, nipBox, X, kz, top))
      + rect(nipBox.x, nipBox.y, nipBox.width, nipBox.height, { fill: "none", stroke: COLOUR.rule })
      + scales + particles(answer, grains, columns);
    return element("svg", { xmlns: "http://www.w3.org/2000/svg", viewBox: `0 0 ${width} ${height}`, width, height,
      role: "img",
      "aria-label": label, "font-family": "system-ui, sans-serif" }, body);
  }

  return { nip, significant, element, rect, line, text, polyline, COLOUR };
})();
