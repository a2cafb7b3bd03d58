"use strict";

// How far the steps have come: the same fold as work/progress.py, which is the definition of what is right.
const subbaseFold = (steps, results) => {
  const byId = new Map(steps.map((step) => [step.id, step]));
  const before = new Map();
  for (const step of steps) {
    before.set(step.id, [...new Set([...step.after, ...step.after.flatMap((gate) => before.get(gate))])]);
  }
  const meets = (step, result) => {
    if (!result) {
      return false;
    }
    if (result.did === "skipped") {
      return step.may_skip;
    }
    if (step.unit) {
      return result.did === "read" && step.low <= result.value && result.value <= step.high;
    }
    return result.did === "done";
  };
  const waits = (held, step) => {
    const found = [];
    if (step.live) {
      for (const [name, result] of held) {
        if (byId.get(name).live && name !== step.id && result.did !== "skipped" && !meets(byId.get(name), result)) {
          found.push(name);
        }
      }
    }
    for (const name of before.get(step.id)) {
      const result = held.get(name);
      if (!meets(byId.get(name), result) || (result.did === "skipped" && step.needs.includes(name))) {
        found.push(name);
      }
    }
    return found;
  };
  const refused = (held, result) => {
    const step = byId.get(result.step);
    if (!step) {
      return "unknown";
    }
    if (result.did === "undone") {
      return held.has(step.id) ? "" : "nothing";
    }
    if (result.did === "skipped") {
      return !step.may_skip ? "guards" : result.reason.trim() ? "" : "reason";
    }
    if (waits(held, step).length) {
      return "early";
    }
    if (!step.may_do && result.did !== "not so" && !result.reason.trim()) {
      return "who";
    }
    if (step.unit) {
      if (result.did === "done" || (result.did === "read" && !(typeof result.value === "number" && !Number.isNaN(result.value)))) {
        return "number";
      }
      if (result.did === "read" && step.unit !== "degC" && result.value < 0) {
        return "negative";
      }
      if (result.did === "read" && step.unit !== "ohm" && !Number.isFinite(result.value)) {
        return "range";
      }
      return "";
    }
    return result.did === "read" ? "number" : "";
  };
  const behind = (id) => {
    const found = new Set([id]);
    for (const step of steps) {
      if (step.after.some((gate) => found.has(gate))) {
        found.add(step.id);
      }
    }
    found.delete(id);
    return found;
  };
  const held = new Map();
  const reasons = [];
  for (const result of results) {
    const reason = refused(held, result);
    reasons.push(reason);
    if (reason) {
      continue;
    }
    const step = byId.get(result.step);
    const on = steps.filter((other) => other.renews.length && meets(other, held.get(other.id)));
    const wasMet = meets(step, held.get(step.id));
    if (result.did === "undone") {
      held.delete(step.id);
    } else {
      held.delete(step.id);
      held.set(step.id, result);
    }
    if (!meets(step, held.get(step.id))) {
      step.voids.forEach((name) => held.delete(name));
    }
    if (wasMet) {
      behind(step.id).forEach((name) => held.delete(name));
    }
    for (const off of on) {
      if (!held.has(off.id)) {
        off.renews.forEach((name) => held.delete(name));
      }
    }
  }
  const states = new Map();
  for (const step of steps) {
    const result = held.get(step.id);
    if (meets(step, result)) {
      states.set(step.id, { status: result.did === "skipped" ? "skipped" : "done", value: result.value, reason: result.reason });
      continue;
    }
    const waiting = waits(held, step);
    states.set(
      step.id,
      waiting.length
        ? { status: "blocked", waits: waiting }
        : result
          ? { status: "failed", value: result.value, reason: result.reason }
          : { status: "open" },
    );
  }
  return { states, reasons };
};
