"use strict";
/* The live ladder: shows one call on the drawing, and what a meter reads between two points that are tapped or chosen.
   Volts come worked out with the page; the only arithmetic here is the size of a difference of two phasors. */
(() => {
  const root = document.querySelector("[data-live]");
  const source = document.getElementById("live-data");
  if (!root || !source) return;
  const data = JSON.parse(source.textContent);
  const index = new Map(data.points.map((name, at) => [name, at]));
  const calls = document.getElementById("live-call");
  const lists = [document.getElementById("live-a"), document.getElementById("live-b")];
  const display = document.getElementById("live-reading");
  /* A piece of line may be part of several ways; every other part has one name, which may hold spaces. */
  const split = (part) => (part.startsWith("p:") ? part.split(" ") : [part]);
  const parts = [...root.querySelectorAll("[data-part]")].map((shape) => [shape, split(shape.dataset.part)]);
  const points = [...root.querySelectorAll("[data-point]")];

  const difference = (u, v, at) => Math.hypot(u[at] - v[at], u[at + 1] - v[at + 1]);

  /* Nominal, low and high between two points; null when nothing joins them. */
  const reading = (call, a, b) => {
    const i = index.get(a);
    const j = index.get(b);
    if (i === undefined || j === undefined) return null;
    const [u, v] = [call.v[i], call.v[j]];
    if (!u || !v || call.island[i] !== call.island[j]) return null;
    const ends = [difference(u, v, 2), difference(u, v, 4)];
    const [low, high] = [Math.min(...ends), Math.max(...ends)];
    return {
      nominal: difference(u, v, 0),
      low: Math.max(0, low * (1 - data.share) - data.least),
      high: high * (1 + data.share) + data.least,
    };
  };

  const show = () => {
    const call = data.calls[Number(calls.value)];
    const [flows, waits, on, made] = [call.flows, call.waits, call.on, call.made].map((names) => new Set(names));
    for (const [shape, names] of parts) {
      const any = (kind, among) => names.some((name) => name.startsWith(kind) && among.has(name.slice(kind.length)));
      const [name] = names;
      if (name.startsWith("v:")) {
        const [point, common] = name.slice(2).split("|").map(decodeURIComponent);
        const found = reading(call, point, common);
        shape.textContent = found ? `${found.nominal.toFixed(1)} V` : "–";
      } else if (name.startsWith("e:")) {
        shape.textContent = any("e:", made) ? data.words.made : data.words.open;
      } else if (name.startsWith("o:")) {
        shape.textContent = any("o:", on) ? data.words.on : data.words.off;
      } else {
        shape.classList.toggle("flows", any("p:", flows) || any("a:", flows));
        shape.classList.toggle("waits", any("p:", waits) && !any("p:", flows));
      }
    }
    const [a, b] = lists.map((list) => list.value);
    for (const shape of points) {
      shape.classList.toggle("probe-a", shape.dataset.point === a && a !== "");
      shape.classList.toggle("probe-b", shape.dataset.point === b && b !== "");
    }
    display.replaceChildren();
    if (!a || !b) {
      display.textContent = a || b ? data.words.second : data.words.first;
      return;
    }
    const found = reading(call, a, b);
    const say = (node) => node.replace(".", " ");
    const line = document.createElement("span");
    line.textContent = data.words.between.replace("{a}", say(a)).replace("{b}", say(b));
    const volts = document.createElement("b");
    volts.textContent = found ? `${found.nominal.toFixed(1)} V` : "–";
    const bounds = document.createElement("span");
    bounds.textContent = found
      ? data.words.bounds.replace("{low}", found.low.toFixed(1)).replace("{high}", found.high.toFixed(1))
      : data.words.nothing;
    display.append(line, volts, bounds);
  };

  /* The first tap puts one probe, the second the other; a third begins anew; a probe tapped again is taken off. */
  const tap = (node) => {
    const held = lists.findIndex((list) => list.value === node);
    if (held >= 0) {
      lists[held].value = "";
    } else {
      const free = lists.findIndex((list) => !list.value);
      if (free >= 0) {
        lists[free].value = node;
      } else {
        lists[0].value = node;
        lists[1].value = "";
      }
    }
    show();
  };

  for (const shape of points) {
    shape.addEventListener("click", () => tap(shape.dataset.point));
    shape.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      tap(shape.dataset.point);
    });
  }
  for (const list of [calls, ...lists]) list.addEventListener("change", show);
  for (const hidden of root.querySelectorAll(".scripted")) hidden.hidden = false;
  root.classList.add("is-live");
  calls.value = String(Math.min(1, data.calls.length - 1));
  show();
})();
