// How the work of a job stands on this phone: what the server had, then what was sent since, then what is not yet sent.
"use strict";

const subbaseWalk = (() => {
  const readNumber = (text) => {
    const said = text.trim().toLowerCase();
    if (/^(ol|0l|o\.l\.?)$/.test(said)) return Infinity;
    const bare = said.replace(",", ".").replace(/(v|a|ohms?|[Ωω]|°?[fc]|°)$/u, "").trim();
    const thousands = bare.endsWith("k");
    const digits = thousands ? bare.slice(0, -1).trim() : bare;
    return /^[+-]?(\d+(\.\d*)?|\.\d+)$/.test(digits) ? Number(digits) * (thousands ? 1000 : 1) : NaN;
  };

  // An end of a bound comes as a number, as OL, or as null for none.
  const low = (item) => (item.low === null ? -Infinity : item.low === "OL" ? Infinity : item.low);
  const high = (item) => (item.high === null || item.high === "OL" ? Infinity : item.high);

  const stepsOf = (kept) => kept.steps.map((step) => ({ ...step, low: low(step), high: high(step) }));
  const base = (kept) =>
    kept.results.map((result) => ({ ...result, value: result.value === "OL" ? Infinity : result.value, reason: result.reason || "" }));

  // A form of the Work page as results of steps; one that speaks of another wiring counts for none.
  const resultsOf = (item, kept, states) => {
    if (!item.path.endsWith("/work/result")) return [];
    const field = (name) => subbaseShelf.field(item, name);
    if (field("mark") && field("mark") !== kept.mark) return [];
    const [step, act, who, reason] = ["step", "act", "who", "reason"].map(field);
    if (act === "lock out") {
      return kept.steps
        .filter((other) => other.looks_twice && states && states.get(other.id).status === "done")
        .map((other) => ({ step: other.id, did: "undone", reason: "" }));
    }
    if (act === "read" || act === "ol") {
      const expected = kept.steps.find((other) => other.id === step);
      let value = act === "ol" ? Infinity : readNumber(field("value"));
      if (expected && expected.unit === "degC" && kept.units === "us") value = ((value - 32) * 5) / 9;
      return [{ step, did: "read", value, reason: who }];
    }
    const did = { done: "done", "not so": "not so", skip: "skipped", undo: "undone" }[act];
    return did ? [{ step, did, reason: did === "done" ? who : reason }] : [];
  };

  // Return {kept, steps, states, results, unsent: step -> entry} of a job; null when its work was never kept here.
  const standing = async (job, without = 0) => {
    const kept = await subbaseShelf.told(`work ${job}`);
    if (!kept) return null;
    const sent = (await subbaseShelf.told(`sent ${job}`)) || [];
    const waiting = (await subbaseShelf.entries(job)).filter((item) => item.state !== "refused" && item.id !== without);
    const steps = stepsOf(kept);
    const results = base(kept);
    const unsent = new Map();
    for (const item of [...sent, ...waiting]) {
      const { states } = subbaseFold(steps, results);
      for (const result of resultsOf(item, kept, states)) {
        // Told again as met by another page, it would be a step done anew, and all behind it would fall.
        const state = states.get(result.step);
        const again = state && ["done", "skipped"].includes(state.status) && ["done", "skipped"].includes(result.did);
        if (again) continue;
        results.push(result);
        if (item.id) unsent.set(result.step, item);
      }
    }
    const { states } = subbaseFold(steps, results);
    return { kept, steps, states, results, unsent };
  };

  // Why a form may not be taken now: a word of the fold, or empty.
  const refusal = (stand, item) => {
    const results = resultsOf(item, stand.kept, stand.states);
    if (!results.length) return "";
    const { reasons } = subbaseFold(stand.steps, [...stand.results, ...results]);
    return reasons.slice(stand.results.length).find(Boolean) || "";
  };

  // The step that comes next: what is wrong, what is open, what may be left out though it waits; empty when all are met.
  const next = (stand) => {
    const having = (status) => stand.steps.filter((step) => stand.states.get(step.id).status === status);
    const found = [...having("failed"), ...having("open"), ...having("blocked").filter((step) => step.may_skip)][0];
    return found ? found.id : "";
  };

  const shown = (value, unit, units) => {
    if (value === undefined || value === null) return "";
    if (!Number.isFinite(value)) return "OL";
    const here = unit === "degC" && units === "us" ? (value * 9) / 5 + 32 : value;
    return `${Number(here.toPrecision(4))} ${unit === "degC" ? (units === "us" ? "°F" : "°C") : unit}`;
  };

  return { readNumber, low, high, standing, refusal, next, shown };
})();
