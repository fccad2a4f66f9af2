// A finger draws round an area: the stroke is sent whole once it is lifted. A short touch is a tap, a corner of it.
"use strict";
(() => {
  const place = document.querySelector("[data-draws]"), form = document.getElementById("keep");
  if (!place || !form) return;
  const picture = place.querySelector("input"), lines = place.querySelectorAll("polyline");
  const STROKE = 24;
  let stroke = null, drew = false;

  function at(event) {
    const box = picture.getBoundingClientRect();
    const share = (from, start, size) => Math.min(1, Math.max(0, (from - start) / size));
    return [share(event.clientX, box.left, box.width), share(event.clientY, box.top, box.height)];
  }

  function long() {
    let sum = 0;
    for (let n = 1; n < stroke.length; n += 1) {
      sum += Math.hypot((stroke[n][0] - stroke[n - 1][0]) * picture.width, (stroke[n][1] - stroke[n - 1][1]) * picture.height);
    }
    return sum;
  }

  function draw() {
    const points = stroke.map(([x, y]) => `${(x * picture.width).toFixed(1)},${(y * picture.height).toFixed(1)}`).join(" ");
    lines.forEach((line) => line.setAttribute("points", points));
  }

  place.classList.add("by-finger");
  picture.addEventListener("pointerdown", (event) => {
    stroke = [at(event)];
    drew = false;
    picture.setPointerCapture(event.pointerId);
  });
  picture.addEventListener("pointermove", (event) => {
    if (!stroke) return;
    stroke.push(at(event));
    if (drew || long() > STROKE) { drew = true; draw(); }
  });
  picture.addEventListener("pointerup", () => {
    if (drew) {
      form.querySelector("[name=points]").value = stroke.map(([x, y]) => `${x.toFixed(4)},${y.toFixed(4)}`).join(" ");
      setTimeout(() => form.submit()); // once the finger's own event is over
    }
    stroke = null;
  });
  picture.addEventListener("pointercancel", () => { stroke = null; });
  picture.addEventListener("dragstart", (event) => event.preventDefault()); // a mouse would carry the picture away
  picture.addEventListener("click", (event) => { if (drew) event.preventDefault(); });
})();
