// The list of what is on this phone and not yet with the server: looked at, sent again, or given up, one by one.
"use strict";

(() => {
  const shelf = subbaseShelf;
  const page = document.querySelector("#unsent");
  if (!page || !("indexedDB" in window)) return;
  const words = page.dataset;
  const make = (name, text = "", attributes = {}) => {
    const element = document.createElement(name);
    element.textContent = text;
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  };
  const button = (text, act, kind = "") => {
    const made = make("button", text, { type: "button", class: kind });
    made.addEventListener("click", act);
    return made;
  };
  const send = async () => {
    const ready = await navigator.serviceWorker?.ready;
    ready?.active.postMessage({ type: "send" });
  };
  const clock = (text) => new Date(text).toLocaleString(document.documentElement.lang, { dateStyle: "medium", timeStyle: "short" });

  const line = (item) => {
    const made = make("li", "", { class: item.state });
    made.append(make("p", item.what || item.path, { class: "what" }));
    const who = item.person ? `, ${item.person}` : "";
    made.append(make("p", `${clock(item.made_at)}${who}`, { class: "small quiet" }));
    const mine = !item.person || item.person === document.body.dataset.person;
    if (item.state === "refused") {
      made.append(make("p", `${words.refused} ${item.said}`, { class: "refusal" }));
    } else {
      made.append(make("p", mine ? words.waits : words.other.replace("{name}", item.person)));
      if (item.said) made.append(make("p", `${words.tried} ${item.said}`, { class: "small" }));
    }
    for (const [, value] of item.fields) {
      if (value instanceof File && value.type.startsWith("image/")) {
        const picture = make("img", "", { src: URL.createObjectURL(value), alt: item.what, width: "180" });
        made.append(picture);
      }
    }
    const row = make("p", "", { class: "choices" });
    row.append(make("a", words.look, { class: "button", href: item.at || `/jobs/${item.job}` }));
    if (item.state === "refused") {
      row.append(" ", button(words.again, async () => {
        await shelf.change(item.id, () => ({ state: "waiting", tries: 0, said: "" }));
        await show();
        await send();
      }, "main"));
    }
    row.append(" ", button(words.giveUp, async () => {
      if (!window.confirm(words.sure.replace("{what}", item.what))) return;
      await shelf.remove(item.id);
      await show();
      document.dispatchEvent(new CustomEvent("given-up"));
    }));
    made.append(row);
    return made;
  };

  let shown = "";
  const show = async () => {
    const found = await shelf.entries();
    const out = await shelf.told("signed out");
    const mark = JSON.stringify([out, found.map(({ id, state, said, tries }) => [id, state, said, tries])]);
    if (mark === shown) return;
    shown = mark;
    document.querySelector("#signed-out").hidden = !(out && found.length);
    document.querySelector("#none-unsent").hidden = found.length > 0;
    document.querySelector("#send-all").hidden = !found.some((item) => item.state === "waiting");
    const list = document.querySelector("#entries");
    for (const picture of list.querySelectorAll("img")) URL.revokeObjectURL(picture.src);
    list.replaceChildren(...found.map(line));
    page.dataset.shown = String(found.length);
  };
  document.querySelector("#send-all").addEventListener("click", send);
  document.addEventListener("shelf", show);
  show();
})();
