"use strict";

// Pieces of a page, made from plain data; every text is put in as text.
const subbaseDraw = (() => {
  const make = (name, fields = {}, ...inside) => {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(fields)) {
      if (key === "onclick") made.addEventListener("click", value);
      else if (value === true) made.setAttribute(key, "");
      else if (value !== false && value !== null && value !== undefined) made.setAttribute(key, value);
    }
    made.append(...inside.flat(Infinity).filter((part) => part !== null && part !== undefined && part !== false && part !== ""));
    return made;
  };
  const fill = (text, parts = {}) => text.replace(/\{(\w+)\}/g, (whole, name) => (name in parts ? String(parts[name]) : whole));
  const button = (text, action, kind = "") => make("button", { type: "button", class: kind || null, onclick: action }, text);
  const field = (label, input, hint = "") =>
    make("p", { class: "reading" }, make("label", { for: input.id }, label, hint ? " " : "", hint ? make("span", { class: "hint" }, hint) : ""), input);
  const verdict = (kind, line, ...rest) =>
    make("section", { class: `verdict ${kind}` }, make("p", { class: "line" }, line), rest.flat().filter(Boolean).map((text) => make("p", {}, text)));
  const table = (found, words, caption = true, cards = false) =>
    make(
      "div",
      {},
      caption && found.title ? make("h3", {}, found.title) : "",
      make(
        "div",
        { class: "scroll", tabindex: "0", role: "region", "aria-label": found.title || words.table },
        make(
          "table",
          { class: cards ? "cards" : null },
          make("thead", {}, make("tr", {}, found.head.map((cell) => make("th", { scope: "col" }, cell)))),
          make("tbody", {}, found.rows.map((row) => make("tr", {}, row.map((cell, at) => make("td", { "data-head": cards ? found.head[at] : null }, cell))))),
        ),
      ),
      found.note ? make("p", { class: "small quiet" }, found.note) : "",
    );
  // Drawings come from this program's own Python, with every text in them escaped there.
  const drawing = (text, kind) => {
    const read = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    return make("div", { class: `figure ${kind}`, tabindex: "0", role: "region", "aria-label": read.querySelector("title")?.textContent || null }, document.importNode(read, true));
  };
  const list = (lines) => make("ul", {}, lines.map((line) => make("li", {}, line)));
  return { make, fill, button, field, verdict, table, drawing, list };
})();
