// The survey page made quicker: saved as it is tapped, judged at once, the next end to fill in brought to the thumb.
// Without this script every button still works; the page is then sent as a whole.
"use strict";
(() => {
  const body = document.getElementById("survey-body");
  if (!body) return;
  const said = body.dataset;
  let timer = 0;
  let redrawDue = false;
  let dirty = false;
  let byFinger = false;
  let chosen = null;
  let kept = false;
  // What was changed last, for the list of what is not yet sent.
  const words = { button: "", field: "" };

  const form = () => document.getElementById("survey-form");
  const tell = (state) => {
    const place = body.querySelector(".bar .sent");
    if (place) place.textContent = said[state];
    said.state = state;
  };

  // One request at a time: each must carry the sequence that the one before it left behind. What cannot be sent stays in
  // front, with the very fields and key that it had, so that a lost answer leads to no second entry.
  const waiting = [];
  let running = false;
  const touched = new Map();

  function send(action, redraw) {
    clearTimeout(timer);
    redrawDue = dirty = false;
    waiting.push({ action, redraw, data: null });
    return run();
  }

  async function run() {
    if (running) return;
    running = true;
    tell("sending");
    while (waiting.length) {
      const item = waiting[0];
      if (!item.data) {
        item.data = new FormData(form());
        item.data.set("do", item.action);
        item.data.set("kept-what", [said.name, item.action ? words.button : words.field].filter(Boolean).join(": "));
        item.data.set("kept-person", document.body.dataset.person || "");
        touched.clear();
      }
      try {
        const answer = await fetch(form().action, { method: "POST", body: item.data, headers: { "X-Part": "form" } });
        const fresh = answer.status === 403 && answer.headers.get("X-Form-Token");
        if (fresh && !item.anew) {
          // The page is from an earlier sign-in: the same entry, with a mark that is good now.
          item.anew = true;
          item.data.set("csrf", fresh);
          for (const field of document.querySelectorAll("[name=csrf]")) field.value = fresh;
          continue;
        }
        if (!answer.ok) throw new Error(String(answer.status));
        if (answer.headers.get("X-Kept")) {
          // It is on the phone's disk now; what comes next is made on top of it.
          form().elements.after.value = (await answer.json()).kept;
          form().elements.key.value = subbaseShelf.newKey();
          waiting.shift();
          kept = true;
          if (item.action) document.getElementById("told").textContent = said.adds;
          continue;
        }
        kept = false;
        if (answer.redirected) { location.assign(answer.url); return; }
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        if (item.redraw) swapAll(page, item.action);
        else swapJudged(page);
        waiting.shift();
      } catch (error) {
        running = false;
        tell("waiting");
        return;
      }
    }
    running = false;
    tell(dirty ? "sending" : kept ? "kept" : "sent");
  }

  // What was tapped while an answer was on its way is put back onto the page that came.
  function putBack() {
    for (const [name, value] of touched) {
      for (const field of form().querySelectorAll(`[name="${CSS.escape(name.split("\n")[0])}"]`)) {
        if (field.type === "radio") field.checked = field.value === value;
        else if (field.type === "checkbox") { if (field.value === name.split("\n")[1]) field.checked = value; }
        else if (field.type !== "hidden") field.value = value;
      }
    }
  }

  function swapJudged(fresh) {
    for (const name of ["key", "seen", "after"]) form().elements[name].value = fresh.querySelector(`#survey-form [name=${name}]`).value;
    document.getElementById("judged").replaceWith(fresh.getElementById("judged"));
    for (const end of body.querySelectorAll(".end")) {
      const now = fresh.getElementById(end.id);
      if (now) end.classList.toggle("open", now.classList.contains("open"));
    }
    furnish();
  }

  function swapAll(fresh, action) {
    const focused = document.activeElement && document.activeElement.id;
    const shut = new Set([...body.querySelectorAll("details[open]")].map(nameOf));
    const before = focused ? document.activeElement.getBoundingClientRect().top : 0;
    body.replaceChildren(...fresh.body.childNodes);
    putBack();
    for (const details of body.querySelectorAll("details")) if (shut.has(nameOf(details)) && !details.classList.contains("kinds")) details.open = true;
    const again = focused && document.getElementById(focused);
    if (again) {
      again.focus({ preventScroll: true });
      scrollBy(0, again.getBoundingClientRect().top - before);
    }
    furnish();
    if (/^add-(cable|control|equipment)/.test(action || "")) last(action);
  }

  const nameOf = (details) => {
    const card = details.closest(".wire, .card, fieldset, section");
    return `${card ? card.id : ""} ${details.querySelector("summary").textContent}`;
  };

  // What was just added comes into sight.
  function last(action) {
    const where = { "add-cable": ".cable", "add-control": "section:has(> #controls) > .card", "add-equipment": "section:has(> #equipment) > .card" };
    const cards = body.querySelectorAll(where[action.split("/")[0]]);
    if (cards.length) cards[cards.length - 1].scrollIntoView({ block: "start" });
  }

  function next(from) {
    const open = [...body.querySelectorAll(".end")].filter((end) => {
      const choice = end.querySelector("input:checked");
      return !choice || choice.value === "unknown" || choice.value === "as written";
    });
    body.querySelectorAll(".end.next").forEach((end) => end.classList.remove("next"));
    const ends = [...body.querySelectorAll(".end")];
    const after = open.filter((end) => ends.indexOf(end) > ends.indexOf(from));
    const found = after.find((end) => end.dataset.group === from.dataset.group)
      || open.find((end) => end.dataset.group === from.dataset.group && end !== from) || after[0] || open.find((end) => end !== from);
    if (!found) return;
    found.classList.add("next");
    if (byFinger) found.scrollIntoView({ block: "center" });
  }

  document.addEventListener("pointerdown", () => { byFinger = true; }, true);
  document.addEventListener("keydown", () => { byFinger = false; }, true);

  body.addEventListener("change", (event) => {
    const field = event.target;
    if (!field.form || field.form.id !== "survey-form" || field.name.startsWith("x/") || field.id === "find-kind") return;
    if (field.type === "checkbox" && field.name === "s/signs") {
      const none = field.form.querySelector("[data-none]");
      if (field === none && none.checked) field.form.querySelectorAll("[name='s/signs']:checked").forEach((box) => { if (box !== none) box.checked = false; });
      if (field !== none && field.checked) none.checked = false;
    }
    const end = field.closest(".end");
    if (end) {
      end.classList.toggle("open", field.value === "unknown");
      next(end);
    }
    const legend = field.closest("fieldset, p")?.querySelector("legend, label")?.firstChild?.textContent || "";
    const label = ["radio", "checkbox"].includes(field.type) ? field.closest("label")?.textContent : field.value;
    words.field = `${legend.trim()} ${(label || "").trim()}`.trim().slice(0, 200);
    dirty = true;
    if (field.type === "checkbox") touched.set(`${field.name}\n${field.value}`, field.checked);
    else touched.set(field.name, field.value);
    redrawDue = redrawDue || "redraw" in field.dataset;
    clearTimeout(timer);
    tell("sending");
    timer = setTimeout(() => send("", redrawDue), 350);
  });

  body.addEventListener("submit", (event) => {
    if (event.target.id !== "survey-form") return;
    event.preventDefault();
    const button = event.submitter;
    words.button = button ? button.textContent.trim() : "";
    send(button ? button.value : "", true);
  });

  body.addEventListener("input", (event) => {
    if (event.target.id !== "find-kind") return;
    const wanted = event.target.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    for (const details of body.querySelectorAll("details.kinds")) {
      let any = false;
      for (const button of details.querySelectorAll("button")) {
        const text = `${button.textContent} ${button.value} ${details.querySelector("summary").textContent}`.toLowerCase();
        button.hidden = !wanted.every((word) => text.includes(word));
        any = any || !button.hidden;
      }
      details.hidden = !any;
      details.open = Boolean(wanted.length) && any;
    }
  });

  // The map: a conductor, then the terminal it lands on; by finger or by Enter.
  function tapped(target) {
    const map = target.closest(".map");
    if (target.dataset.conductor !== undefined) {
      map.querySelectorAll(".target.chosen").forEach((other) => { other.classList.remove("chosen"); other.setAttribute("aria-pressed", "false"); });
      chosen = chosen === target.dataset.conductor ? null : target.dataset.conductor;
      map.classList.toggle("landing", chosen !== null);
      if (chosen !== null) { target.classList.add("chosen"); target.setAttribute("aria-pressed", "true"); }
      return;
    }
    if (chosen === null) return;
    const dot = target.dataset.terminal.indexOf(".");
    const [place, terminal] = [target.dataset.terminal.slice(0, dot), target.dataset.terminal.slice(dot + 1)];
    const wire = [...body.querySelectorAll(".wire")].find((found) => found.dataset.wire === chosen);
    for (const end of wire ? wire.querySelectorAll(".end") : []) {
      const value = end.dataset.place === place ? terminal : target.dataset.terminal;
      const radio = [...end.querySelectorAll("input")].find((input) => input.value === value);
      if (radio) {
        radio.checked = true;
        const finger = byFinger;
        byFinger = false;
        radio.dispatchEvent(new Event("change", { bubbles: true }));
        byFinger = finger;
        return;
      }
    }
  }
  body.addEventListener("click", (event) => {
    const target = event.target.closest(".map .target");
    if (target) tapped(target);
  });
  body.addEventListener("keydown", (event) => {
    const target = event.target.closest && event.target.closest(".map .target");
    if (target && (event.key === "Enter" || event.key === " ")) {
      event.preventDefault();
      tapped(target);
    }
  });

  function furnish() {
    // Said once for those who cannot see it, and only when it changes.
    const told = document.getElementById("told");
    const now = body.querySelector(".bar a").textContent;
    if (told.dataset.last !== undefined && told.dataset.last !== now) told.textContent = now;
    told.dataset.last = now;
    const search = body.querySelector(".search");
    if (search) search.hidden = false;
    const hint = body.querySelector(".tap-hint");
    if (hint) hint.hidden = false;
    if (chosen === null) return;
    const target = [...body.querySelectorAll(".map [data-conductor]")].find((found) => found.dataset.conductor === chosen);
    if (target) {
      target.classList.add("chosen");
      target.setAttribute("aria-pressed", "true");
      target.closest(".map").classList.add("landing");
    }
  }

  // Edits that wait on this phone are put onto a page that does not have them; once they are sent the page is fetched anew.
  async function waitingHere() {
    if (!window.indexedDB || !window.subbaseKeeps) return [];
    return (await subbaseShelf.entries(document.body.dataset.job)).filter((item) => item.part && item.state === "waiting");
  }
  async function putOn() {
    const items = await waitingHere();
    if (!items.length) return;
    for (const item of items) {
      for (const field of form().elements) {
        if (field.type === "hidden" || !field.name || ["do", "key"].includes(field.name)) continue;
        const values = item.fields.filter(([name]) => name === field.name).map(([, value]) => value);
        if (field.type === "radio") { if (values.length) field.checked = values.includes(field.value); }
        else if (field.type === "checkbox") field.checked = values.includes(field.value);
        else if (values.length && field.tagName !== "BUTTON" && !field.multiple) field.value = values[0];
      }
    }
    form().elements.after.value = items.at(-1).key;
    form().elements.seen.value = items.at(-1).fields.find(([name]) => name === "seen")[1];
    kept = true;
    tell("kept");
  }
  async function fetchAnew() {
    if (!kept || dirty || running || waiting.length || (await waitingHere()).length) return;
    const answer = await fetch(location.pathname, { headers: { Accept: "text/html" } }).catch(() => null);
    if (!answer || !answer.ok || answer.redirected || dirty || running) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("survey-body");
    if (!fresh || dirty || running) return;
    kept = false;
    swapAll({ body: fresh }, "");
    tell("sent");
  }
  document.addEventListener("shelf", fetchAnew);

  addEventListener("online", run);
  addEventListener("beforeunload", (event) => { if (dirty || waiting.length) event.preventDefault(); });
  furnish();
  tell("sent");
  putOn();
})();
