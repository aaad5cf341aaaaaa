// Sentences from the numbers of an answer. Nothing is said that is not computed. Needs drawing.js for its rounding.
"use strict";

const words = (() => {
  const DEGREES = 180 / Math.PI;
  const SAME = 0.05; // less than 5 % either way is told as "the same"
  const solved = (answer) => answer !== null && answer.status === "converged";
  const um = (metres) => `${drawing.significant(metres * 1e6)} µm`;
  const deg = (radians) => `${(radians * DEGREES).toFixed(1)}°`;
  const times = (ratio) => (ratio >= 1.5 ? `${drawing.significant(ratio)} times the ink` : `${Math.round(100 * (ratio - 1))} % more ink`);

  function change(now, before) {
    const ratio = now / before;
    if (ratio > 1 + SAME) return "more";
    return ratio < 1 - SAME ? "less" : "same";
  }

  function amount(now, before) {
    const kind = change(now, before);
    if (kind === "same") return "the same ink";
    return kind === "more" ? times(now / before) : `${Math.round(100 * (1 - now / before))} % less ink`;
  }

  function seen(print) {
    if (Math.abs(print.contrast) < 0.005) return "The print stays as approved.";
    const densities = `density ${print.approved_density.toFixed(2)} → ${print.density.toFixed(2)}`;
    return print.visible ? `The print turns ${print.tone}, and that is seen: ${densities}.`
      : `The print turns ${print.tone}, but too little to be seen: ${densities}.`;
  }

  function carried(point) {
    const ink = point.film_load_share + point.wedge_load_share;
    if (ink > 0.9) return `The blade rides: ink carries ${Math.round(100 * ink)} % of the load`;
    if (ink < 0.5) return `It wipes: the lands carry ${Math.round(100 * point.asperity_load_share)} % of the load`;
    return `Ink carries ${Math.round(100 * ink)} % of the load, the lands the rest`;
  }

  // Why: by the tilt of the worn facet and by what carries the load.
  function why(answer) {
    const { facet, point, blade } = answer;
    if (!facet.length) return `This edge is new and has no worn facet yet. ${carried(point)}.`;
    const tilt = facet.tilt * DEGREES;
    if (Math.abs(tilt) < 0.005) return `The worn facet lies parallel to the roll at ${deg(facet.effective_angle)}. ${carried(point)}.`;
    const by = `${drawing.significant(Math.abs(tilt))}°`;
    const sense = tilt > 0 ? `stands open by ${by} towards the ink, like the bow of a sledge` : `leans back by ${by}, closed towards the ink`;
    const end = tilt > 0 ? "" : blade.orientation === "trailing" ? " (a trailing blade turns the other way than a doctoring one)" : "";
    return `The facet was worn parallel at ${deg(facet.bedded_angle)} and now runs at ${deg(facet.effective_angle)}: `
      + `it ${sense}${end}. ${carried(point)}.`;
  }

  // One sentence for everybody: what gets through now, against the run-in state of the same blade.
  function result(answer, runIn, moved, did) {
    if (!solved(answer)) return failure(answer);
    const now = answer.ink.on_lands;
    if (!moved || !solved(runIn)) return `${did}, ${um(now)} of ink gets under the blade. ${seen(answer.print)}`;
    const before = runIn.ink.on_lands;
    return `${did}, ${amount(now, before)} gets under the blade: ${um(before)} → ${um(now)}. ${seen(answer.print)}`;
  }

  function failure(answer) {
    if (answer === null) return "The engine gave no answer.";
    if (answer.status === "bad_input") return `No number: ${answer.problems.map((p) => `${p.field} = ${p.value} ${p.allowed}`).join("; ")}.`;
    const message = (answer.message || "no solution was found at this setting").replace(/\.$/, "");
    return `No number here (${answer.status.replace(/_/g, " ")}): ${message}.`;
  }

  // After a prediction: who was right. before and after are answers; the numbers are left out where the result says them anyway.
  function judged(guess, before, after, runIn) {
    if (!solved(before) || !solved(after)) return { kind: null, sentence: `Nobody was right or wrong: ${failure(solved(before) ? after : before)}` };
    const kind = change(after.ink.on_lands, before.ink.on_lands);
    const said = { more: "more", less: "less", same: "the same" };
    const twice = solved(runIn) && runIn.ink.on_lands === before.ink.on_lands;
    const numbers = twice ? "" : `, ${um(before.ink.on_lands)} → ${um(after.ink.on_lands)}`;
    const sentence = guess === kind ? `Right: ${said[kind]}${numbers}.` : `You said ${said[guess]}. Those who said ${said[kind]} were right${numbers.replace(",", ":")}.`;
    return { kind, sentence };
  }

  function rebed(answer) {
    if (!solved(answer) || !answer.facet.length || Math.abs(answer.facet.tilt) * DEGREES < 0.005) return "";
    if (answer.rebed.distance === null) return "Nothing touches, so nothing wears: left alone it does not bed itself.";
    const km = drawing.significant(answer.rebed.distance / 1000), hours = answer.rebed.time / 3600;
    const long = hours < 1 ? `${drawing.significant(hours * 60)} min` : `${drawing.significant(hours)} h`;
    return `At the wear of this moment it would take ${km} km (${long}) until the facet lies parallel again.`;
  }

  const flags = (answer) => (solved(answer) ? [...answer.validity.map((flag) => `${flag.message} (${flag.name.replace(/_/g, " ")}).`),
    ...answer.unusual.map((u) => `${u.field} = ${u.value}: ${u.note}.`)] : []);

  // In place of the picture, for those who hear it.
  function picture(answer) {
    if (!solved(answer)) return failure(answer);
    const { blade, facet, point, particles } = answer;
    const enter = particles.list.filter((p) => p.enters).map((p) => p.name);
    const tilt = facet.length ? `Its worn facet is ${Math.round(facet.length * 1e6)} µm long and tilted by ${drawing.significant(facet.tilt * DEGREES)}°.` : "Its edge is new.";
    return `A ${blade.orientation} blade set at ${deg(blade.set_angle)} runs at ${deg(point.effective_angle)} on a roll that moves to the right, `
      + `pressed with ${Math.round(point.line_load)} N/m. ${tilt} ${um(answer.ink.on_lands)} of ink passes on the lands. ${carried(point)}. `
      + `Particles that get in: ${enter.length ? enter.join(", ") : "none of those drawn"}.`;
  }

  function print(answer, runIn) {
    if (!solved(answer)) return failure(answer);
    const was = runIn === null ? "" : `${um(runIn)} run in, `;
    return `Ink left on the lands: ${was}${um(answer.ink.on_lands)} now. ${seen(answer.print)} Contrast ${Math.abs(Math.round(100 * answer.print.contrast))} %.`;
  }

  function curve(list) {
    const known = list.filter(([, film]) => film !== null);
    if (known.length < 2) return "";
    const [angle, film] = known.reduce((a, b) => (b[1] > a[1] ? b : a));
    return `With this facet most ink passes at ${angle}°: ${um(film)}.`;
  }

  return { solved, change, result, failure, why, judged, rebed, flags, picture, print, curve, um, deg };
})();
