// The ten-minute run: each step starts at one state of the blade and goes on to another. What comes out is solved, not written
// here. `from` and `to` are changes to the state of `setting.js`; a step without `to` asks nothing.
"use strict";

const guide = (() => {
  const at35 = { orientation: "doctoring", angle: 35, ranIn: { angle: 35 }, step: 0, start: "resting", ink: "case" };
  const steps = [
    { title: "A blade that is run in", from: at35,
      say: "It ran at 35° until its tip was worn to fit the roll. See where the facet lies and who carries the load." },
    { title: "Lay it two degrees lower", label: "Doctoring blade", from: at35, to: { angle: 33 },
      say: "Same blade, same facet: only the angle changes. Nothing has worn yet." },
    { title: "Lay it five degrees lower", label: "Doctoring blade", from: { ...at35, angle: 33 }, to: { angle: 30 },
      say: "On from 33° to 30°. Is lower always worse?" },
    { title: "Press harder instead", label: "Doctoring blade", from: at35, to: { step: 0.1 },
      say: "Back at 35°, run in. Somebody sees haze and presses ten per cent harder." },
    { title: "Let it bed at the lower angle", label: "Doctoring blade, bedded again", from: { ...at35, angle: 33 }, to: { ranIn: { angle: 33 } },
      say: "At 33° again, but this time with a facet that was worn there." },
    { title: "Turn it round: a trailing blade", label: "Trailing blade", from: { ...at35, orientation: "trailing" }, to: { angle: 33 },
      say: "Run in at 35° as a trailing blade, then laid to 33° like the first one." },
    { title: "Another ink", label: "Doctoring blade, thin ink", from: { ...at35, ink: "thin" }, to: { angle: 30 },
      say: "The doctoring blade again, run in at 35° with a thin ink, then laid to 30°." },
    { title: "On one page", from: at35, summary: true, say: "Each of these was solved just now, with this blade and roll:" },
  ];

  // The load in which a step's blade was run in is that of the case.
  function apply(state, change) {
    const next = { ...state, ...change };
    if (change.ranIn) next.ranIn = { load: state.load, ...change.ranIn };
    return next;
  }
  const start = (state, step) => {
    const next = apply(state, step.from);
    return { ...next, first: next.ranIn };
  };
  const end = (state, step) => (step.to ? apply(start(state, step), step.to) : null);

  return { steps, start, end };
})();
