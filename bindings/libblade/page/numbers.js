// The table of numbers, in the units of the pressroom.
"use strict";

const numbers = (() => {
  const DEGREES = 180 / Math.PI;
  // Member of `point`, what it is, shown = SI times this (plus that), unit.
  const ROWS = [
    ["film_on_lands", "Ink left on the lands", 1e6, "µm"],
    ["clean_wipe_film", "Of a clean wipe", 1e6, "µm"],
    ["excess_ink", "Beyond a clean wipe", 1e6, "µm"],
    ["ink_carried", "Ink carried, lands and cells", 1e6, "cm3/m2"],
    ["min_film", "Smallest gap", 1e6, "µm"],
    ["effective_angle", "Angle at which it runs", DEGREES, "°"],
    ["bedded_angle", "Angle at which the facet fits", DEGREES, "°"],
    ["facet_tilt", "Tilt of the facet", DEGREES, "°"],
    ["facet_length", "Length of the facet", 1e6, "µm"],
    ["line_load", "Line load", 1, "N/m"],
    ["friction_coefficient", "Friction coefficient", 1, ""],
    ["mean_pressure", "Mean pressure under the facet", 1e-6, "MPa"],
    ["peak_pressure", "Peak pressure", 1e-6, "MPa"],
    ["max_bending_stress", "Largest bending stress", 1e-6, "MPa"],
    ["film_temperature", "Temperature of the film", 1, "°C", -273.15],
    ["power_per_width", "Friction power", 1, "W/m"],
    ["wear_rate", "Blade worn in 1000 km of web", 1e9, "mm"],
    ["run_out_load", "Swing of the load over a turn", 1, "N/m"],
    ["film_over_turn", "Most ink left over a turn", 1e6, "µm"],
  ];

  function cell(answer, [name, , scale, unit, offset = 0]) {
    if (!words.solved(answer) || answer.point[name] === null) return "–";
    return `${Number((answer.point[name] * scale + offset).toPrecision(4))} ${unit}`.trim();
  }

  const row = (name, now, runIn) => `<tr><th scope="row">${name}</th><td>${now}</td><td>${runIn}</td></tr>`;

  // Rows of HTML; none for a state that is not solved.
  function table(now, runIn) {
    if (!words.solved(now)) return "";
    const told = (answer) => (words.solved(answer) ? `${answer.status}, ${answer.point.regime.replace("_", " ")}` : "–");
    return row("Solved", told(now), told(runIn)) + ROWS.map((one) => row(one[1], cell(now, one), cell(runIn, one))).join("");
  }

  return { table };
})();
