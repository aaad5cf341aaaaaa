// What is set on the page, and the requests it makes of the engine. A blade is run in at one setting (`ranIn`) and then moved.
"use strict";

const setting = (() => {
  const DEGREES = 180 / Math.PI;

  // The state a case begins with. answer: of the case as it stands; it tells numbers that the case leaves out.
  function begin(base, answer) {
    const solved = answer.case.setting;
    const load = solved.line_load !== undefined ? solved.line_load : answer.point.line_load;
    const angle = solved.set_angle_rad * DEGREES;
    const place = { angle: Number(angle.toPrecision(12)), load: Number(load.toPrecision(6)) };
    const tip = answer.case.tip;
    let ranIn = { ...place };
    if (tip.bedding === "elsewhere") ranIn = { angle: Number((tip.bedded_set_angle_rad * DEGREES).toPrecision(12)), load: tip.bedded_line_load };
    if (tip.bedding === "angle") ranIn = { facet: { bedded_angle_rad: answer.facet.bedded_angle, facet_length: answer.facet.length } };
    return { base, ink: "case", roll: "case", orientation: solved.orientation, holding: solved.holding,
      speed: Number((solved.surface_speed * 60).toPrecision(12)), ...place, ranIn, first: ranIn, step: 0, start: "resting" };
  }

  // The press: all that stays when the blade is moved.
  function press(state) {
    const changed = { ...state.base };
    const set = { "setting.orientation": state.orientation, "setting.holding": state.holding, "setting.surface_speed": state.speed / 60 };
    if (state.ink !== "case") {
      const chosen = choices.inks[state.ink];
      if (chosen.ink) changed.ink = chosen.ink;
      else set["ink.viscosity"] = chosen.viscosity;
    }
    if (state.roll !== "case") changed.roll = choices.rolls[state.roll].roll;
    return { case: changed, set };
  }

  const at = (request, place) => ({ ...request, set: { ...request.set, "setting.set_angle_deg": place.angle, "setting.line_load": place.load } });

  const moved = (state) => state.step !== 0 || (state.ranIn.facet ? true : state.angle !== state.ranIn.angle || state.load !== state.ranIn.load);

  // The blade where it was run in; null when only its facet is known.
  const runIn = (state) => (state.ranIn.facet ? null : { ...at(press(state), state.ranIn), run_in: true });
  const approved = (state) => (state.first.facet ? null : { ...at(press(state), state.first), run_in: true });

  function now(state, approvedInk) {
    const request = { ...at(press(state), state), step: state.step, start: state.start };
    if (state.ranIn.facet) request.run_in = state.ranIn.facet;
    else if (state.angle === state.ranIn.angle && state.load === state.ranIn.load) request.run_in = true;
    else request.run_in = { set_angle_deg: state.ranIn.angle, line_load: state.ranIn.load };
    if (approvedInk !== null) request.approved_ink = approvedInk;
    return request;
  }

  // Film at one angle, with the facet and all else as it stands.
  const atAngle = (state, angle) => ({ ...now({ ...state, angle }, null), drawing: false });

  const degrees = (value) => `${Number(value.toFixed(2))}°`;

  // What was done to the blade, to begin a sentence with.
  function told(state) {
    const parts = [];
    const { ranIn } = state;
    const step = `${Math.round(Math.abs(state.step) * 100)} % ${state.step > 0 ? "harder" : "softer"}`;
    if (ranIn.facet) parts.push(`with the facet it brought along, set at ${degrees(state.angle)}`);
    else {
      if (state.angle !== ranIn.angle) parts.push(`${state.angle < ranIn.angle ? "laid down" : "set up"} from ${degrees(ranIn.angle)} to ${degrees(state.angle)}`);
      if (state.load !== ranIn.load) parts.push(`loaded with ${Number(state.load.toFixed(1))} N/m after ${Number(ranIn.load.toFixed(1))}`);
    }
    if (state.step) parts.push(`pressed ${step}`);
    if (!parts.length) parts.push(`run in at ${degrees(state.angle)} and ${Number(state.load.toFixed(1))} N/m`);
    const sentence = parts.join(" and ") + (state.start === "riding" ? ", in its other state" : "");
    return sentence.replace(/^./, (c) => c.toUpperCase());
  }

  return { begin, now, runIn, approved, atAngle, moved, told };
})();
