// The field file: steps and checks on a phone that never meets the server. What is done is kept on the phone as entries
// for the journal, and saved as one file that the office takes in.
"use strict";

(() => {
  const source = document.querySelector("#data");
  if (!source) {
    return;
  }
  const data = JSON.parse(source.textContent);
  for (const step of data.steps) {
    step.low = step.low === null ? -Infinity : step.low === "OL" ? Infinity : step.low;
    step.high = step.high === null || step.high === "OL" ? Infinity : step.high;
  }
  const words = data.words;
  const shelf = `subbase field file ${data.job} ${data.mark}`;
  const $ = (selector, within = document) => within.querySelector(selector);
  const make = (name, text = "", attributes = {}) => {
    const element = document.createElement(name);
    element.textContent = text;
    for (const [key, value] of Object.entries(attributes)) {
      element.setAttribute(key, value);
    }
    return element;
  };

  let memory = null;
  const load = () => {
    if (memory) {
      return memory;
    }
    try {
      const kept = JSON.parse(localStorage.getItem(shelf) || "[]");
      return Array.isArray(kept) ? kept : [];
    } catch {
      return [];
    }
  };
  const save = (entries) => {
    try {
      localStorage.setItem(shelf, JSON.stringify(entries));
    } catch {
      // No storage here: it lives as long as this page, and the page says so.
      memory = entries;
      $("#no-storage").hidden = false;
    }
  };
  const newKey = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  };
  const add = (...bodies) => {
    const actor = $("#actor").value.trim().slice(0, 120);
    const fresh = bodies.map((body) => ({
      key: newKey(), made_at: new Date().toISOString(), actor, device: "field file", seen: data.seen, body,
    }));
    save([...load(), ...fresh]);
    show();
  };

  // Entries as results of steps.
  const resultOf = (body) => {
    if (body.kind === "step_done") {
      return { step: body.step, did: body.did, reason: body.note };
    }
    if (body.kind === "step_reopened") {
      return { step: body.step, did: "undone", reason: body.note };
    }
    if (body.kind === "reading_taken" && body.step) {
      return { step: body.step, did: "read", value: body.value === null ? Infinity : body.value, reason: body.note };
    }
    return null;
  };
  const results = () => {
    const base = data.results.map((result) => ({ ...result, value: result.value === "OL" ? Infinity : result.value, reason: result.reason || "" }));
    return [...base, ...load().map((entry) => resultOf(entry.body)).filter(Boolean)];
  };
  const readNumber = (text) => {
    const said = text.trim().toLowerCase().replace(",", ".").replace(/(v|ohms?|[Ωω]|°?[fc])$/u, "").trim();
    if (/^(ol|0l|o\.l\.?)$/.test(text.trim().toLowerCase())) {
      return Infinity;
    }
    const thousands = said.endsWith("k");
    const bare = thousands ? said.slice(0, -1).trim() : said;
    return /^[+-]?(\d+(\.\d*)?|\.\d+)$/.test(bare) ? Number(bare) * (thousands ? 1000 : 1) : NaN;
  };
  const shown = (value, unit) => {
    if (value === undefined || value === null) {
      return "";
    }
    if (!Number.isFinite(value)) {
      return "OL";
    }
    const here = unit === "degC" && data.units === "us" ? (value * 9) / 5 + 32 : value;
    return `${Number(here.toPrecision(4))} ${unit === "degC" ? (data.units === "us" ? "°F" : "°C") : unit}`;
  };

  const byId = new Map(data.steps.map((step) => [step.id, step]));
  const articles = new Map([...document.querySelectorAll("article.step")].map((article) => [article.dataset.id, article]));
  let wanted = "";
  let said = "";

  const tell = (step, did, fields = {}) => {
    const result = { step: step.id, did, reason: fields.reason || "", value: fields.value };
    const reason = subbaseFold(data.steps, [...results(), result]).reasons.at(-1);
    if (reason) {
      said = words.refused[reason] || words.refused.early;
      wanted = step.id;
      show();
      return;
    }
    said = "";
    wanted = did === "undone" ? step.id : "";
    const common = { step: step.id, note: result.reason, mark: data.mark };
    if (did === "undone") {
      add({ kind: "step_reopened", ...common });
    } else if (did === "read") {
      add({ ...step.body, value: Number.isFinite(fields.value) ? fields.value : null, survey: data.survey, ...common });
    } else {
      add({ kind: "step_done", did, survey: data.survey, ...common });
    }
  };

  const button = (text, action, kind = "") => {
    const made = make("button", text, { type: "button", class: kind });
    made.addEventListener("click", action);
    return made;
  };
  const choices = (...buttons) => {
    const row = make("p", "", { class: "choices" });
    row.append(...buttons);
    return row;
  };
  const field = (label, id, more = {}) => {
    const row = make("p", "", { class: "reading" });
    row.append(make("label", label, { for: id }), make("input", "", { id, autocomplete: "off", ...more }));
    return row;
  };

  const controls = (step, state) => {
    const box = make("div", "", { class: "act" });
    if (said && wanted === step.id) {
      const told = make("p", said, { class: "caution", role: "alert" });
      box.append(told);
    }
    if (state.status === "blocked") {
      const waits = make("section", "", { class: "verdict question" });
      waits.append(make("p", words.waits, { class: "line" }));
      const order = data.steps.map((other) => other.id);
      for (const name of [...state.waits].sort((a, b) => order.indexOf(a) - order.indexOf(b)).slice(0, 3)) {
        waits.append(make("p", byId.get(name).title));
      }
      box.append(waits);
    }
    if (state.status === "failed") {
      const failed = make("section", "", { class: "verdict stopped" });
      failed.append(make("p", `${words.failed} ${shown(state.value, step.unit)}`.trim(), { class: "line" }), make("p", [state.reason, step.otherwise].filter(Boolean).join(" ")));
      box.append(failed);
    }
    if (state.status === "done" || state.status === "skipped") {
      box.append(make("p", `${words.status[state.status]} ${shown(state.value, step.unit)} ${state.reason || ""}`.trim()));
      box.append(choices(button(words.back, () => tell(step, "undone"))));
      return box;
    }
    if (state.status !== "blocked") {
      if (!step.may_do) {
        box.append(field(`${words.who} (${step.who})`, "who", { maxlength: "120" }));
      }
      const who = () => ($("#who") ? $("#who").value : "");
      if (step.unit) {
        const unit = step.unit === "degC" ? (data.units === "us" ? "°F" : "°C") : step.unit;
        box.append(field(`${words.display} ${unit}`, "value", { inputmode: "decimal", maxlength: "20" }));
        const enter = (text) => {
          const value = readNumber(text);
          tell(step, "read", { value: step.unit === "degC" && data.units === "us" ? ((value - 32) * 5) / 9 : value, reason: who() });
        };
        const row = choices(button(words.enter, () => enter($("#value").value), "main big"));
        if (step.unit === "ohm") {
          row.append(button("OL", () => enter("OL"), "big"));
        }
        box.append(row);
      } else {
        box.append(choices(button(step.kind === "look" ? words.so : words.done, () => tell(step, "done", { reason: who() }), "main big")));
      }
    }
    if (state.status !== "blocked" || step.may_skip) {
      const more = make("details");
      more.append(make("summary", step.may_skip ? words.not_so_or_skip : words.not_so), field(words.reason, "reason", { maxlength: "300" }));
      const row = choices();
      if (state.status !== "blocked") {
        row.append(button(words.not_so, () => tell(step, "not so", { reason: $("#reason").value })));
      }
      if (step.may_skip) {
        row.append(button(words.skip, () => tell(step, "skipped", { reason: $("#reason").value })));
      }
      more.append(row);
      box.append(more);
    }
    return box;
  };

  const latest = (id) => {
    const local = load().filter((entry) => entry.body.kind === "reading_taken" && entry.body.check === id);
    return local.length ? local.at(-1).body : data.readings[id];
  };
  const showChecks = () => {
    let within = 0;
    let stop = false;
    for (const item of data.checks) {
      const low = item.low === "OL" ? Infinity : item.low;
      const high = item.high === "OL" || item.high === null ? Infinity : item.high;
      const body = latest(item.id);
      const place = $(`#v-${item.id}`);
      if (!body) {
        place.textContent = "";
        continue;
      }
      const value = body.value === null ? Infinity : body.value;
      const good = low <= value && value <= high;
      const high_v = item.unit === "V" && value > data.too_high_v && Number.isFinite(value);
      within += good;
      stop = stop || high_v;
      place.textContent = `${shown(value, item.unit)}: ${high_v ? words.too_high : good ? words.within : words.outside}`;
      place.className = `mark ${good ? "pass" : "fail"}`;
    }
    $("#stop").hidden = !stop;
    $("#checked").textContent = words.checked.replace("{within}", within).replace("{all}", data.checks.length);
  };

  const show = () => {
    const { states } = subbaseFold(data.steps, results());
    const open = data.steps.filter((step) => states.get(step.id).status === "failed").concat(data.steps.filter((step) => states.get(step.id).status === "open"));
    const skippable = data.steps.filter((step) => step.may_skip && states.get(step.id).status === "blocked");
    const current = (wanted && byId.get(wanted)) || open[0] || skippable[0];
    document.querySelectorAll(".act").forEach((box) => box.remove());
    for (const [id, article] of articles) {
      article.hidden = !current || id !== current.id;
    }
    const met = [...states.values()].filter((state) => state.status === "done" || state.status === "skipped").length;
    $("#met").textContent = words.met.replace("{met}", met).replace("{all}", data.steps.length);
    $("#all-met").hidden = Boolean(current);
    if (current) {
      articles.get(current.id).append(controls(current, states.get(current.id)));
    }
    const list = $("#list");
    list.replaceChildren(
      ...data.steps.map((step) => {
        const state = states.get(step.id);
        const line = make("li", "", { class: state.status });
        const link = make("button", `${step.title} `, { type: "button", class: "plain" });
        link.append(make("i", words.status[state.status]));
        link.addEventListener("click", () => {
          wanted = step.id;
          said = "";
          show();
          $("#work").scrollIntoView();
        });
        line.append(link);
        return line;
      }),
    );
    const count = load().length;
    $("#waiting").textContent = count ? words.waiting.replace("{count}", count) : words.nothing;
    $("#text").value = count ? file() : "";
    showChecks();
    const left = data.steps.filter((step) => !["done", "skipped"].includes(states.get(step.id).status)).length;
    $("#left").textContent = words.left.replace("{steps}", left);
  };

  const file = () => JSON.stringify({ format: 1, what: "subbase entries", job: data.job, entries: load() }, null, 1) + "\n";
  const download = () => {
    const link = make("a", "", { href: URL.createObjectURL(new Blob([file()], { type: "application/json" })), download: data.file });
    document.body.append(link);
    link.click();
    link.remove();
  };

  document.querySelectorAll(".scripted").forEach((element) => {
    element.hidden = false;
  });
  document.querySelectorAll(".unscripted").forEach((element) => {
    element.hidden = true;
  });
  for (const item of data.checks) {
    const input = $(`#i-${item.id}`);
    const enter = (text) => {
      const value = readNumber(text);
      const place = $(`#v-${item.id}`);
      if (Number.isNaN(value) || value < 0 || (item.unit === "V" && !Number.isFinite(value))) {
        place.textContent = words.refused.number;
        place.className = "mark fail";
        return;
      }
      input.value = "";
      add({ ...item.body, value: Number.isFinite(value) ? value : null });
    };
    $(`#e-${item.id}`).addEventListener("click", () => enter(input.value));
    input.addEventListener("keydown", (event) => event.key === "Enter" && enter(input.value));
    const ol = $(`#o-${item.id}`);
    if (ol) {
      ol.addEventListener("click", () => enter("OL"));
    }
  }
  $("#next").addEventListener("click", () => {
    wanted = "";
    said = "";
    show();
  });
  $("#save").addEventListener("click", download);
  $("#forget").addEventListener("click", () => {
    if (window.confirm(words.forget)) {
      memory = memory && [];
      localStorage.removeItem(shelf);
      show();
    }
  });
  $("#note-add").addEventListener("click", () => {
    const text = $("#note").value.trim();
    if (text) {
      $("#note").value = "";
      add({ kind: "note_made", text, about: "" });
    }
  });
  $("#hand").addEventListener("click", () => {
    add({ kind: "handed_over", to: $("#to").value.trim(), papers: {}, note: "" });
    $("#handed").hidden = false;
  });
  show();
})();
