// The corners of the frames' field on a proof's photograph: dragged by a finger, moved by arrow keys, kept one by one.
// A tap on the photograph does what it does without this script.
"use strict";
(() => {
  const form = document.querySelector("[data-corners]");
  if (!form) return;
  const frame = form.querySelector(".frame"), lines = form.querySelector("svg"), told = document.querySelector('[data-beside="corner"]');
  const picture = form.querySelector("input[type=image]"), how = document.querySelector("[data-drag-how]");
  const [rows, columns] = form.dataset.grid.split(" ").map(Number);
  const kept = form.dataset.corners.split(" ").map((point) => point.split(",").map(Number));
  const names = form.dataset.names.split("|"), called = form.dataset.called.split("|");
  const now = kept.map((point) => [...point]), handles = [];
  let sending = Promise.resolve(), idle = 0, waits = -1;

  // ---- the lines: a flat sheet seen from somewhere, as controller/negatives/on_proof.py has it

  function onto([[x0, y0], [x1, y1], [x2, y2], [x3, y3]]) {
    const dx1 = x1 - x2, dx2 = x3 - x2, dx3 = x0 - x1 + x2 - x3, dy1 = y1 - y2, dy2 = y3 - y2, dy3 = y0 - y1 + y2 - y3;
    const det = dx1 * dy2 - dx2 * dy1, g = (dx3 * dy2 - dx2 * dy3) / det, h = (dx1 * dy3 - dx3 * dy1) / det;
    return (u, v) => {
      const under = g * u + h * v + 1;
      return [((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / under, ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / under];
    };
  }

  function convex() {
    return now.every((a, at) => {
      const b = now[(at + 1) % 4], c = now[(at + 2) % 4];
      return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) > 0.0001;
    });
  }

  function draw() {
    const { width, height } = lines.viewBox.baseVal;
    const point = ([x, y]) => `${(x * width).toFixed(1)} ${(y * height).toFixed(1)}`;
    let steps = `M${now.map(point).join("L")}Z`;
    if (convex()) {
      const at = onto(now);
      for (let n = 1; n < columns; n += 1) steps += `M${point(at(n / columns, 0))}L${point(at(n / columns, 1))}`;
      for (let n = 1; n < rows; n += 1) steps += `M${point(at(0, n / rows))}L${point(at(1, n / rows))}`;
    }
    const path = lines.querySelector("path");
    path.setAttribute("d", steps);
    lines.replaceChildren(path);
    handles.forEach((handle, at) => {
      handle.style.left = `${now[at][0] * picture.width}px`;
      handle.style.top = `${now[at][1] * picture.height}px`;
    });
  }

  // ---- keeping one

  function keep(at) {
    const wanted = [...now[at]];
    if (wanted[0] === kept[at][0] && wanted[1] === kept[at][1]) return;
    const body = new FormData(form);
    body.set("corner", names[at]);
    body.set("at.x", String(wanted[0] * picture.width - 0.5));
    body.set("at.y", String(wanted[1] * picture.height - 0.5));
    // One after the other, so that none overtakes another.
    sending = sending.then(() => fetch(form.action, { method: "POST", headers: { Accept: "application/json" }, body }))
      .then(async (answer) => {
        if (answer.ok) kept[at] = wanted;
        told.textContent = answer.ok ? "" : (await answer.json()).refusal;
        if (!answer.ok) back(at);
      }).catch(() => { told.textContent = document.body.dataset.lost; back(at); });
  }

  function back(at) {
    now[at] = [...kept[at]];
    draw();
  }

  // ---- moving one

  function put(at, x, y) {
    now[at] = [x, y].map((share) => Math.min(1, Math.max(0, Math.round(share * 10000) / 10000)));
    draw();
  }

  names.forEach((name, at) => {
    const handle = document.createElement("button");
    handle.type = "button";
    handle.className = "corner";
    handle.dataset.corner = name;
    handle.setAttribute("aria-label", called[at]);
    let pointer = null, off = [0, 0];
    handle.addEventListener("pointerdown", (event) => {
      if (pointer !== null || event.button !== 0) return;
      event.preventDefault();
      handle.focus({ preventScroll: true });
      pointer = event.pointerId;
      handle.setPointerCapture(pointer);
      const box = picture.getBoundingClientRect();
      off = [now[at][0] - (event.clientX - box.left) / box.width, now[at][1] - (event.clientY - box.top) / box.height];
    });
    handle.addEventListener("pointermove", (event) => {
      if (event.pointerId !== pointer) return;
      const box = picture.getBoundingClientRect();
      put(at, (event.clientX - box.left) / box.width + off[0], (event.clientY - box.top) / box.height + off[1]);
    });
    for (const end of ["pointerup", "pointercancel"]) {
      handle.addEventListener(end, (event) => {
        if (event.pointerId !== pointer) return;
        pointer = null;
        if (end === "pointerup") keep(at); else back(at);
      });
    }
    handle.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!way) return;
      event.preventDefault();
      const far = event.shiftKey ? 10 : 1;
      if (waits >= 0 && waits !== at) keep(waits);
      put(at, now[at][0] + way[0] * far / picture.width, now[at][1] + way[1] * far / picture.height);
      clearTimeout(idle);
      waits = at;
      idle = setTimeout(() => { waits = -1; keep(at); }, 700);
    });
    handle.addEventListener("blur", () => {
      if (waits !== at) return;
      clearTimeout(idle);
      waits = -1;
      keep(at);
    });
    handles.push(handle);
    frame.append(handle);
  });
  how.hidden = false;
  draw();
})();
