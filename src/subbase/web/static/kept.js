// Work and Check as they were kept on this phone: the page was made by the server for any state of its steps, and shows
// here the state that they are in, what is not yet sent included.
"use strict";

(() => {
  const shelf = subbaseShelf;
  const walk = subbaseWalk;
  const page = document.body.dataset;
  const $ = (selector) => document.querySelector(selector);
  const make = (name, text = "", attributes = {}) => {
    const element = document.createElement(name);
    element.textContent = text;
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  };
  const href = (id) => `/jobs/${page.job}/work?step=${encodeURIComponent(id)}`;

  // Why the last form was not taken; said once, as long as this page is shown.
  let said = null;
  const showStep = async (box) => {
    const stand = await walk.standing(page.job);
    if (!stand) return;
    const { kept, states, steps, unsent } = stand;
    const words = kept.words;
    const byId = new Map(steps.map((step) => [step.id, step]));
    const step = byId.get(box.dataset.step);
    const state = states.get(step.id);
    for (const part of document.querySelectorAll("[data-when]")) part.hidden = !part.dataset.when.split(" ").includes(state.status);
    const lines = [];
    said ??= (await shelf.told(`said ${page.job}`)) || {};
    if (said.step === step.id) {
      const refused = make("section", "", { class: "verdict stopped", role: "alert" });
      refused.append(make("p", kept.words.not_taken, { class: "line" }), make("p", words.refused[said.reason] || words.refused.early));
      lines.push(refused);
      await shelf.untell(`said ${page.job}`);
    }
    if (state.status === "blocked") {
      const waits = make("section", "", { class: "verdict question" });
      waits.append(make("p", words.waits, { class: "line" }));
      const list = make("ul", "", { class: "lines" });
      for (const other of steps.filter((item) => state.waits.includes(item.id)).slice(0, 4)) {
        const item = make("li");
        item.append(make("a", other.title, { class: "whole", href: href(other.id) }));
        list.append(item);
      }
      waits.append(list);
      lines.push(waits);
    }
    if (["done", "skipped", "failed"].includes(state.status)) {
      const section = make("section", "", { class: `verdict ${state.status === "failed" ? "stopped" : "planned"}` });
      const value = walk.shown(state.value, step.unit, kept.units);
      section.append(make("p", [words.status[state.status], value].filter(Boolean).join(": "), { class: "line" }));
      for (const text of [state.reason, state.status === "failed" ? step.otherwise : ""]) if (text) section.append(make("p", text));
      if (unsent.has(step.id)) section.append(make("p", words.unsent, { class: "unsent" }));
      lines.push(section);
    }
    box.replaceChildren(...lines);
    // Supply off again, and everything behind the locks to be proved anew.
    const lock = $("[data-lock]");
    if (lock) lock.hidden = !kept.steps.some((other) => other.looks_twice && states.get(other.id).status === "done");
    showLast(stand);
    showComing(stand, step.id);
    showTally(stand);
  };

  const showTally = ({ kept, states }) => {
    const met = [...states.values()].filter((state) => ["done", "skipped"].includes(state.status)).length;
    $(".tally").textContent = kept.words.met.replace("{met}", met).replace("{all}", states.size);
    $("svg.bar .part").setAttribute("width", ((100 * met) / states.size).toFixed(1));
  };

  const showLast = ({ steps, states, results, unsent, kept }) => {
    const form = $("#last");
    if (!form) return;
    const last = [...results].reverse().find((result) => states.has(result.step) && ["done", "skipped", "failed"].includes(states.get(result.step).status));
    const own = form.dataset.own;
    form.hidden = !last || last.step === own;
    if (form.hidden) return;
    const step = steps.find((item) => item.id === last.step);
    form.elements.step.value = step.id;
    form.querySelector("button").textContent = `${kept.words.back}: ${step.title}`;
    form.querySelector(".unsent").textContent = unsent.has(step.id) ? kept.words.unsent : "";
  };

  const showComing = ({ kept, steps, states }, id) => {
    const list = $(".coming");
    if (!list) return;
    const after = steps.slice(steps.findIndex((step) => step.id === id) + 1);
    list.replaceChildren(
      ...after.filter((step) => ["open", "blocked"].includes(states.get(step.id).status)).slice(0, 4).map((step) => {
        const item = make("li", "", { class: states.get(step.id).status });
        item.append(make("a", step.title, { href: href(step.id) }), make("span", `${step.where} · ${kept.words.status[states.get(step.id).status]}`, { class: "small quiet" }));
        return item;
      }),
    );
  };

  // Every step with its state, on the page that lists them.
  const showSteps = async (links) => {
    const stand = await walk.standing(page.job);
    if (!stand) return;
    showTally(stand);
    for (const link of links) {
      const id = new URL(link.href).searchParams.get("step");
      const state = stand.states.get(id);
      if (!state) continue;
      const { words, units } = stand.kept;
      const step = stand.steps.find((item) => item.id === id);
      link.parentElement.className = state.status;
      link.querySelector("b").textContent = words.signs[state.status];
      const told = [words.status[state.status], walk.shown(state.value, step.unit, units)].filter(Boolean).join(": ");
      link.querySelector("i").textContent = stand.unsent.has(id) ? `${told} · ${words.unsent}` : told;
    }
  };

  // --- Check -----------------------------------------------------------------------------------------------------------

  const showChecks = async () => {
    const kept = await shelf.told(`work ${page.job}`);
    if (!kept) return;
    const own = `/jobs/${page.job}/check/readings`;
    const read = new Map();
    for (const item of await shelf.entries(page.job)) {
      if (item.path !== own || item.state === "refused") continue;
      for (const [name, value] of item.fields) {
        if (name === "ol") read.set(value, Infinity);
        else if (name.startsWith("v-") && value) read.set(name.slice(2), walk.readNumber(value));
      }
    }
    let stop = false;
    for (const item of kept.checks) {
      const place = document.getElementById(`c-${item.id}`);
      if (!place || !read.has(item.id)) continue;
      const value = read.get(item.id);
      const within = walk.low(item) <= value && value <= walk.high(item);
      const tooHigh = item.unit === "V" && Number.isFinite(value) && value > kept.too_high_v;
      stop ||= tooHigh;
      let told = place.querySelector(".unsent");
      if (!told) place.firstElementChild.append(told = make("p", "", { class: "unsent" }));
      const words = kept.words;
      told.replaceChildren(
        make("span", `${walk.shown(value, item.unit, kept.units)}: ${tooHigh ? words.too_high : within ? words.within : words.outside}.`, { class: `mark ${within ? "pass" : "fail"}` }),
        ` ${words.unsent}`,
      );
    }
    $("#kept-stop").hidden = !stop;
  };

  // What cannot be a reading is said at once: the server, which would say so, is not at hand.
  const guardReadings = (form) => {
    form.addEventListener("submit", (event) => {
      let first = null;
      for (const field of form.querySelectorAll('input[name^="v-"]')) {
        const text = field.value.trim();
        const value = text ? walk.readNumber(text) : 0;
        const bad = Number.isNaN(value) || value < 0 || (field.placeholder !== "ohm" && !Number.isFinite(value));
        field.setAttribute("aria-invalid", String(bad));
        if (bad) first ??= field;
      }
      if (!first) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      first.setCustomValidity(form.dataset.number);
      first.reportValidity();
      first.addEventListener("input", () => first.setCustomValidity(""), { once: true });
    }, true);
  };

  const show = () => {
    const box = $("#kept-step");
    if (box) return showStep(box);
    if ($("#kept-stop")) return showChecks();
    const links = [...document.querySelectorAll("ol.all a")];
    if (links.length && page.kept === "yes") return showSteps(links);
    return null;
  };
  const readings = $("#kept-stop") && $("form[data-number]");
  if (readings) guardReadings(readings);
  document.addEventListener("shelf", show);
  show();
})();
