// From one state to the next in a few frames, each of them solved. Nothing moves for those who asked their system for less motion.
"use strict";

const motion = (() => {
  const FRAMES = 8, SPACING = 70; // [ms]
  const MOVES = ["angle", "load", "step"];
  let turn = 0;

  const rest = (state) => JSON.stringify(Object.entries(state).filter(([name]) => !MOVES.includes(name)));
  const still = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches;

  // Whether a blade can be followed on its way: the same blade, moved.
  const possible = (from, to) => from !== null && !still() && rest(from) === rest(to);

  function stop() {
    turn += 1;
  }

  // draw gets the states in between, one after the other, then `to`.
  function play(from, to, draw) {
    stop();
    const mine = turn;
    let frame = 0;
    const next = () => {
      if (mine !== turn) return;
      frame += 1;
      const share = frame / FRAMES;
      const state = { ...to };
      if (frame < FRAMES) for (const name of MOVES) state[name] = from[name] + share * (to[name] - from[name]);
      draw(state);
      if (frame < FRAMES) setTimeout(next, SPACING);
    };
    next();
  }

  return { possible, play, stop };
})();
