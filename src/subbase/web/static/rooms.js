// The sketch taken by the finger: corners are collected here, everything else is sent with the form as it is tapped.
"use strict";
(() => {
  const form = document.getElementById("rooms-form");
  const board = document.getElementById("board");
  if (!form || !board) return;
  const sketch = document.getElementById("sketch");
  const drawn = document.getElementById("drawn");
  const hint = document.getElementById("hint");
  const close = document.getElementById("close-room");
  const back = document.getElementById("take-back");
  const size = document.getElementById("told-size");
  const left = Number(sketch.dataset.left);
  const top = Number(sketch.dataset.top);
  const perUnit = Number(sketch.dataset.perUnit);
  const grid = Number(board.dataset.grid);
  const corners = [];

  const tool = () => form.elements["x/tool"].value;
  const snapped = (value) => Math.round(value / grid) * grid;
  const short = (value) => String(Number(value.toFixed(2)));
  const onSheet = ([x, y]) => `${(x - left) * perUnit},${(top - y) * perUnit}`;

  function plan(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(sketch.getScreenCTM().inverse());
    return [left + point.x / perUnit, top - point.y / perUnit];
  }

  function send(action) {
    const button = document.createElement("button");
    button.name = "do";
    button.value = action;
    button.hidden = true;
    form.append(button);
    form.requestSubmit(button);
  }

  function show() {
    drawn.setAttribute("points", corners.map(onSheet).join(" "));
    const many = corners.length;
    close.disabled = many < 3;
    back.disabled = many < 1;
    if (many > 1) {
      const [a, b] = corners.slice(-2);
      size.textContent = short(Math.hypot(b[0] - a[0], b[1] - a[1]));
    } else size.textContent = "";
  }

  function closeRoom() {
    form.elements["x/corners"].value = corners.map(([x, y]) => `${short(x)},${short(y)}`).join(" ");
    send("room");
  }

  function chosen() {
    const room = tool() === "room";
    hint.textContent = room ? hint.dataset.corner : hint.dataset.thing;
    document.getElementById("corner-buttons").hidden = !room;
  }

  sketch.addEventListener("click", (event) => {
    const [x, y] = plan(event);
    if (tool() !== "room") {
      form.elements["x/x"].value = short(x);
      form.elements["x/y"].value = short(y);
      send("tap");
      return;
    }
    const corner = [snapped(x), snapped(y)];
    // A tap near the first corner closes the room; a finger is wider than a grid square.
    const near = 22 / (sketch.getBoundingClientRect().width / sketch.viewBox.baseVal.width) / perUnit;
    if (corners.length > 2 && Math.hypot(x - corners[0][0], y - corners[0][1]) < near) {
      closeRoom();
      return;
    }
    // Walls are nearly always square to each other: a corner a little off the line of the last is put on it.
    if (corners.length) {
      const last = corners[corners.length - 1];
      for (const n of [0, 1]) if (Math.abs(corner[n] - last[n]) < near / 1.5) corner[n] = last[n];
    }
    corners.push(corner);
    show();
  });
  close.addEventListener("click", closeRoom);
  back.addEventListener("click", () => { corners.pop(); show(); });
  document.getElementById("tools").addEventListener("change", chosen);
  chosen();
})();
