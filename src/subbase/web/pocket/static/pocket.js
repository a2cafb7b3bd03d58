"use strict";

// The page: what is fetched and kept, who answers (Python in a worker), which part of which job is shown.
(() => {
  const { make, fill } = subbaseDraw;
  const store = subbaseStore;
  const $ = (selector) => document.querySelector(selector);
  const PARTS = ["survey", "plan", "work", "check", "hand_over"];
  let words = {};
  let language = "en";
  let looked = "";
  let drawn = 0;

  // Python, in a worker of its own: calls wait for each other there, the page never does.
  const waiting = new Map();
  let worker = null;
  let number = 0;
  const wake = () => {
    worker = new Worker("worker.js", { type: "module" });
    worker.addEventListener("message", ({ data }) => {
      if ("awake" in data) {
        document.body.dataset.awake = data.awake ? "yes" : "no";
        document.body.dataset.bootSeconds = data.seconds || "";
        if (data.awake) busy(words.awake);
        else noPython(data.why);
        return;
      }
      const { resolve, reject } = waiting.get(data.number);
      waiting.delete(data.number);
      if (data.trouble) reject(new Error(data.trouble));
      else resolve({ ...data.answer, seconds: data.seconds });
    });
    worker.addEventListener("error", (event) => noPython(event.message || "worker.js"));
    busy(words.waking);
  };
  const noPython = (why) => {
    busy("");
    say([fill(words.no_wake, { why })]);
    for (const { reject } of waiting.values()) reject(new Error(why));
    waiting.clear();
  };
  const ask = (request) =>
    new Promise((resolve, reject) => {
      number += 1;
      waiting.set(number, { resolve, reject });
      worker.postMessage({ number, request: { language, ...request } });
    });

  const busy = (text) => ($("#busy").textContent = text || "");
  const say = (lines) => {
    $("#said").replaceChildren(...(lines || []).map((line) => make("p", { class: "caution" }, line)));
    if (lines && lines.length) $("#said").scrollIntoView({ block: "nearest" });
  };
  const uuid = () => {
    // crypto.randomUUID is there on secure pages only.
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  };
  const remembered = (name, value) => {
    try {
      if (value !== undefined) localStorage.setItem(name, value);
      return localStorage.getItem(name) || "";
    } catch {
      return "";
    }
  };
  const actor = () => remembered("subbase pocket name");

  // Jobs.
  const entriesOf = async (job) => (await store.rows(job)).map((row) => row.entry);
  let acting = false;
  const act = async (job, what, fields, next = "") => {
    if (acting) return;
    acting = true;
    say([]);
    busy(words.judging);
    try {
      const entries = await entriesOf(job);
      const made = await ask({ ask: "act", job, entries, act: what, fields: { actor: actor(), ...fields } });
      busy("");
      if (made.said) {
        say(made.said);
        return;
      }
      if (!made.entries.length) {
        busy(words.nothing_new);
        if (next) to(job, next);
        return;
      }
      const said = await ask({ ask: "job", job, entries: [...entries, ...made.entries] });
      await store.add(job, said.name, made.entries);
      looked = what === "step" && fields.act === "undo" ? fields.step : "";
      if (next && !location.hash.endsWith(`/${next}`)) to(job, next);
      else await show();
    } catch (error) {
      busy("");
      say([String(error.message || error)]);
    } finally {
      acting = false;
    }
  };
  const to = (job, part) => {
    location.hash = `#job/${job}/${part}`;
  };
  const begin = async (text) => act(uuid(), "begin", { text }, "plan");

  const put = (...shown) => $("#page").replaceChildren(...shown.flat().filter((part) => part !== ""));
  const parts = (job, here) => {
    const items = PARTS.map((part) => make("li", {}, make("a", { href: `#job/${job}/${part}`, "aria-current": part === here ? "page" : null }, words[part])));
    $("#parts").replaceChildren(make("ol", { class: "five" }, items));
    $("#parts").hidden = false;
    $("#parts").setAttribute("aria-label", words.parts);
  };

  const show = async () => {
    drawn += 1;
    const mine = drawn;
    const stale = () => mine !== drawn;
    const [, job, part] = location.hash.match(/^#job\/([0-9a-f-]{36})\/(\w+)$/) || [];
    if (!job || !PARTS.includes(part)) {
      $("#parts").hidden = true;
      $("#job-name").textContent = "";
      $("#all-jobs").hidden = true;
      put(subbaseParts.start(words, await store.jobs(), { begin }));
      document.body.dataset.shown = "start";
      return;
    }
    document.body.dataset.shown = "";
    $("#all-jobs").textContent = words.all_jobs;
    $("#all-jobs").hidden = false;
    parts(job, part);
    try {
      const rows = await store.rows(job);
      const entries = rows.map((row) => row.entry);
      const known = await ask({ ask: "job", job, entries });
      if (stale()) return;
      $("#job-name").textContent = known.name;
      const does = (what, fields, next) => act(job, what, fields, next);
      if (part === "survey") put(subbaseParts.survey(words, known, does));
      if (part === "hand_over") put(subbaseParts.handOver(words, known, rows.filter((row) => !row.sent).length, handing(job, known)));
      if (part === "plan") {
        busy(words.planning);
        const { plan, seconds } = await ask({ ask: "plan", job, entries });
        if (stale()) return;
        put(subbaseParts.plan(words, plan, does, seconds));
      }
      if (part === "work" || part === "check") {
        busy(words.working);
        const { work, checks } = await ask({ ask: "work", job, entries });
        if (stale()) return;
        const look = (step) => {
          looked = step;
          show();
        };
        put(part === "work" ? subbaseParts.work(words, work, does, looked, look) : subbaseParts.check(words, checks, does));
      }
      busy("");
      document.body.dataset.shown = `${job} ${part} ${entries.length}`;
    } catch (error) {
      if (stale()) return;
      busy("");
      say([String(error.message || error)]);
    }
  };

  // Handing over.
  const download = (text, name, type) => {
    const link = make("a", { href: URL.createObjectURL(new Blob([text], { type })), download: name });
    document.body.append(link);
    link.click();
    link.remove();
  };
  const handing = (job, known) => ({
    actor,
    rename: (name) => remembered("subbase pocket name", name.trim()),
    act: (what, fields) => act(job, what, fields),
    save: async () => {
      const entries = await entriesOf(job);
      download(JSON.stringify({ format: 1, what: "subbase entries", job, entries }, null, 1) + "\n", `subbase-entries-${job.slice(0, 8)}.json`, "application/json");
    },
    saveSurvey: () => download(known.text, `survey-${job.slice(0, 8)}.yaml`, "application/yaml"),
    send: () => send(job, known.name),
    forget: async () => {
      const count = (await store.rows(job)).length;
      if (!window.confirm(fill(words.forget_sure, { count }))) return;
      await store.forget(job);
      location.hash = "";
    },
  });
  // The office's own page gives the token that its forms bear; without a sign-in it shows none.
  const formToken = async () => {
    const answer = await fetch("/", { credentials: "same-origin", headers: { Accept: "text/html" } });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const token = page.querySelector("form[action='/jobs'] input[name='csrf']");
    return token ? token.value : "";
  };
  const post = async (path, token, body) => {
    const answer = await fetch(path, { method: "POST", credentials: "same-origin", headers: { "Content-Type": "application/json", "X-Form-Token": token }, body: JSON.stringify(body) });
    const said = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error([said.title, said.detail].filter(Boolean).join(": ") || String(answer.status));
    return said;
  };
  const MOST_AT_ONCE = 100;
  const send = async (job, name) => {
    const told = (...inside) => $("#sent").replaceChildren(...inside);
    told(words.sending);
    let token = "";
    try {
      token = await formToken();
    } catch {
      told(words.no_office);
      return;
    }
    if (!token) {
      told(words.sign_in, " ", make("a", { href: "/" }, words.to_sign_in));
      return;
    }
    try {
      await post("/api/v1/jobs", token, { id: job, name });
      const rows = (await store.rows(job)).filter((row) => !row.sent);
      let [fresh, here] = [0, 0];
      const refused = [];
      for (let at = 0; at < rows.length; at += MOST_AT_ONCE) {
        const { results } = await post(`/api/v1/jobs/${job}/entries`, token, { entries: rows.slice(at, at + MOST_AT_ONCE).map((row) => row.entry) });
        await store.sent(job, results.filter((one) => one.result !== "refused").map((one) => one.key));
        fresh += results.filter((one) => one.result === "kept").length;
        here += results.filter((one) => one.result === "already").length;
        refused.push(...results.filter((one) => one.result === "refused").map((one) => fill(words.refused, { reason: one.reason })));
      }
      await show();
      told(fill(words.sent, { fresh, here }), ...refused.map((line) => make("span", { class: "mark fail" }, ` ${line}`)));
    } catch (error) {
      told(fill(words.refused, { reason: error.message }));
    }
  };

  // Keeping the whole of it for use without a signal.
  const mb = (bytes) => (bytes / 1e6).toFixed(1);
  const onProgress = ({ data }) => {
    if (!data || data.pocket !== "fetched" || document.body.dataset.kept === "yes") return;
    $("#bar").hidden = false;
    $("#bar").max = data.all;
    $("#bar").value = data.done;
    $("#fetch").textContent = fill(words.fetching, { done: mb(data.done), all: mb(data.all) });
    document.body.dataset.fetched = `${data.done} ${data.all}`;
  };
  const isReady = () => {
    document.body.dataset.kept = "yes";
    $("#bar").hidden = true;
    $("#fetch").textContent = words.ready;
  };
  const offer = (registration) => {
    const fresh = registration.waiting;
    if (!fresh || !navigator.serviceWorker.controller) return;
    $("#newer").replaceChildren(words.newer, " ", make("button", { type: "button", onclick: () => fresh.postMessage("use it") }, words.use_newer));
    $("#newer").hidden = false;
  };
  const settled = (fresh) =>
    new Promise((resolve, reject) => {
      const look = () => {
        if (fresh.state === "activated") resolve();
        else if (fresh.state === "redundant") reject(new Error("redundant"));
      };
      fresh.addEventListener("statechange", look);
      look();
    });
  const keepAll = async () => {
    if (!window.isSecureContext) {
      $("#plain").replaceChildren(make("p", { class: "line" }, words.plain_title), make("p", {}, words.plain));
      $("#plain").hidden = false;
      return;
    }
    if (!("serviceWorker" in navigator)) {
      $("#fetch").textContent = words.no_keeper;
      return;
    }
    const controlled = Boolean(navigator.serviceWorker.controller);
    if (controlled) isReady();
    navigator.serviceWorker.addEventListener("message", onProgress);
    navigator.serviceWorker.addEventListener("controllerchange", () => controlled && location.reload());
    try {
      const registration = await navigator.serviceWorker.register("sw.js", { updateViaCache: "none" });
      const watch = (fresh) => fresh && fresh.addEventListener("statechange", () => fresh.state === "installed" && offer(registration));
      registration.addEventListener("updatefound", () => watch(registration.installing));
      watch(registration.installing); // begun before anybody listened
      offer(registration);
      if (!registration.active && registration.installing) await settled(registration.installing);
      if (!controlled) await navigator.serviceWorker.ready;
      isReady();
    } catch {
      if (!controlled) $("#fetch").textContent = words.fetch_failed;
      document.body.dataset.kept = controlled ? "yes" : "no";
      $("#bar").hidden = true;
    }
    if (navigator.storage && navigator.storage.persist && !(await navigator.storage.persist())) {
      $("#no-storage").textContent = words.not_safe;
    }
  };

  const begun = async () => {
    const all = await (await fetch("words.json")).json();
    language = (navigator.languages || ["en"]).map((code) => code.slice(0, 2)).find((code) => code in all) || "en";
    words = all[language];
    document.documentElement.lang = language;
    $("#end").textContent = words.end;
    $("#licences").textContent = words.licences_file;
    if (!(await store.lasts())) {
      $("#no-storage").textContent = words.no_storage;
      $("#no-storage").hidden = false;
    }
    window.addEventListener("hashchange", () => {
      looked = "";
      say([]);
      show();
      window.scrollTo(0, 0);
    });
    const kept = keepAll();
    // Two downloads of the same at once would take twice the time: Python starts once everything is here.
    if (window.isSecureContext && "serviceWorker" in navigator) await kept;
    wake();
    await show();
  };
  begun();
})();
