// On every page: keeps the job of the page on this phone, says what is not yet sent, and gives each form what it needs to
// be kept when there is no network. Without this script every page still works, with network.
"use strict";

(() => {
  const shelf = subbaseShelf;
  const page = document.body.dataset;
  const line = document.getElementById("shelf");
  const isKept = page.kept === "yes";
  const works = window.isSecureContext && "serviceWorker" in navigator && "indexedDB" in window;

  // A key of its own for every showing of a form: a page from the shelf, or from the browser's memory, is shown again.
  const freshKeys = () => {
    for (const field of document.querySelectorAll('form[method="post"] > input[name="key"]')) field.value = shelf.newKey();
  };
  addEventListener("pageshow", (event) => { if (event.persisted) freshKeys(); });
  if (isKept) freshKeys();

  if (!works) {
    if (line) line.replaceChildren(link("/help/offline", line.dataset.plain));
    return;
  }

  window.subbaseKeeps = true;

  function link(href, text) {
    const made = document.createElement("a");
    made.href = href;
    made.className = "sheet";
    made.textContent = text;
    return made;
  }

  // --- what a form says, in words, for the list of what is not yet sent --------------------------------------------

  const clean = (text) => text.replace(/\s+/g, " ").trim();
  const labelOf = (field) => {
    const label = field.getAttribute("aria-label") || (field.labels && field.labels[0] && field.labels[0].textContent) || "";
    return clean(label);
  };
  const words = (form, button) => {
    const told = [];
    const title = document.querySelector("#what") && form.closest(".step") ? document.querySelector("#what") : null;
    if (title) told.push(clean(title.textContent));
    else if (form.dataset.what) told.push(form.dataset.what);
    for (const field of form.elements) {
      if (field === button || !field.name || field.type === "hidden" || field.tagName === "BUTTON" || field.tagName === "FIELDSET") continue;
      if (field.type === "file") told.push(...[...field.files].map((file) => file.name));
      else if (field.type === "radio" || field.type === "checkbox") { if (field.checked) told.push(labelOf(field)); }
      else if (field.tagName === "SELECT") { if (field.value && !field.name.startsWith("meter")) told.push(clean(field.selectedOptions[0].textContent)); }
      else if (field.value) told.push(`${labelOf(field)}: ${field.value}`);
    }
    // 'Enter' beside what was entered says nothing more.
    if (button && (button.name || told.length < 2)) told.push(clean(button.getAttribute("aria-label") || button.textContent));
    const [first, ...rest] = told.filter(Boolean);
    return (rest.length && (title || form.dataset.what) ? `${first}: ${rest.join(", ")}` : [first, ...rest].join(", ")).slice(0, 300);
  };
  const hidden = (form, name, value) => {
    let field = form.querySelector(`input[name="${name}"]`);
    if (!field) {
      field = document.createElement("input");
      field.type = "hidden";
      field.name = name;
      form.append(field);
    }
    field.value = value;
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post" || form.id === "survey-form") return;
    hidden(form, "kept-what", words(form, event.submitter));
    hidden(form, "kept-person", page.person);
  });

  // --- the line that says what is not yet sent -----------------------------------------------------------------------

  const count = (text, number) => text.replace("{count}", number);
  const show = async () => {
    const found = await shelf.entries();
    const waiting = found.filter((item) => item.state === "waiting").length;
    const refused = found.length - waiting;
    const said = line.dataset;
    const parts = [];
    if (refused) parts.push(refused === 1 ? said.refusedOne : count(said.refused, refused));
    if (waiting) parts.push(waiting === 1 ? said.waitingOne : count(said.waiting, waiting));
    if (!parts.length) parts.push(said.allSent);
    const text = parts.join(" ");
    line.classList.toggle("waits", Boolean(waiting || refused));
    line.dataset.count = String(waiting);
    if (line.textContent !== text) line.replaceChildren(link("/unsent", text));
    const photos = document.querySelector("#photos");
    if (photos && page.job) showPhotos(photos.closest("section"), found);
    // What waits must not be cleared away when the phone runs short of room.
    if (waiting) navigator.storage?.persist?.();
    document.dispatchEvent(new CustomEvent("shelf"));
    return waiting;
  };

  // Photos that are not yet sent are shown beside those that are.
  const showPhotos = (section, found) => {
    for (const old of section.querySelectorAll(".unsent img")) URL.revokeObjectURL(old.src);
    section.querySelector(".unsent")?.remove();
    const files = found.filter((item) => item.job === page.job && item.path.endsWith("/photos")).flatMap((item) => item.fields.filter(([, value]) => value instanceof File).map(([, value]) => value));
    if (!files.length) return;
    const list = document.createElement("ul");
    list.className = "photos unsent";
    for (const file of files) {
      const picture = document.createElement("img");
      picture.src = URL.createObjectURL(file);
      picture.alt = line.dataset.photo;
      picture.width = 180;
      const item = document.createElement("li");
      const note = document.createElement("span");
      note.textContent = line.dataset.photo;
      item.append(picture, note);
      list.append(item);
    }
    section.append(list);
  };

  const worker = async () => (await navigator.serviceWorker.ready).active;
  const send = async () => (await worker()).postMessage({ type: "send" });

  // --- keeping the job of this page ----------------------------------------------------------------------------------

  const QUIET_MS = 20_000;
  const spare = Boolean(navigator.connection && navigator.connection.saveData);
  const visited = async () => {
    const message = { type: "visited", job: page.job, sequence: Number(page.sequence), person: page.person, spare };
    (await worker()).postMessage(message);
  };
  const idle = (act) => (window.requestIdleCallback ? requestIdleCallback(act, { timeout: 2000 }) : setTimeout(act, 500));

  navigator.serviceWorker.register("/keeper.js").catch(() => {
    line.replaceChildren(link("/help/offline", line.dataset.plain));
  });
  navigator.serviceWorker.addEventListener("message", (event) => {
    if (event.data.type === "shelf") showAnew(event.data.job === page.job && event.data.sent);
    if (event.data.type === "job kept") page.jobKept = "yes";
  });
  // Once everything is sent, a page that was made before shows it; not under the hands of somebody who is typing.
  let typed = false;
  let due = false;
  let leaving = false;
  document.addEventListener("input", () => { typed = true; });
  document.addEventListener("submit", (event) => { leaving = !event.defaultPrevented; });
  document.addEventListener("click", (event) => { leaving ||= Boolean(event.target.closest?.("a[href]")) && !event.defaultPrevented; });
  addEventListener("pagehide", () => { leaving = true; });
  addEventListener("pageshow", () => { leaving = false; });
  const showAnew = async (sent) => {
    due ||= Boolean(sent);
    if ((await show()) || !due || typed || leaving || document.getElementById("survey-form")) return;
    due = false;
    location.reload();
  };
  const held = () => { if (navigator.serviceWorker.controller) page.keeper = "here"; };
  navigator.serviceWorker.addEventListener("controllerchange", held);
  held();
  addEventListener("online", send);
  setInterval(() => { if (Number(line.dataset.count) && document.visibilityState === "visible") send(); }, 30_000);
  const begin = async () => {
    if (await show()) send();
    if (isKept) return;
    // While a survey is being entered every tap changes it; the job is kept when the taps have ceased for a while.
    let timer = 0;
    document.addEventListener("change", () => {
      clearTimeout(timer);
      timer = setTimeout(async () => { page.sequence = document.querySelector("#survey-form [name=seen]")?.value || page.sequence; visited(); }, QUIET_MS);
    });
    idle(visited);
  };
  if (document.readyState === "complete") begin();
  else addEventListener("load", begin);
})();
