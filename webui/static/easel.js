// A flag on the curve is dragged up or down: the spot is wished darker or lighter. − and + do the same without this.
"use strict";
(() => {
  // While the foot switch measures, the page follows it.
  const running = document.querySelector("[data-running]");
  if (running) {
    const seen = Number(running.dataset.running);
    setInterval(async () => {
      try {
        const answer = await fetch("/status.json", { cache: "no-store" });
        if (answer.ok && (await answer.json()).number !== seen) location.reload();
      } catch { /* it is asked again in a moment */ }
    }, 700);
  }
  const place = document.querySelector(".drag[data-flags]"), picture = place && place.querySelector("svg");
  if (!picture) return;
  const flags = JSON.parse(place.dataset.flags), wishes = JSON.parse(place.dataset.wishes);
  const NEAR = 26;
  let held = null, from = 0, wanted = 0;
  document.querySelectorAll("[data-drag-words]").forEach((words) => { words.hidden = false; });

  function at(event) {
    const box = picture.getBoundingClientRect(), view = picture.viewBox.baseVal;
    return [(event.clientX - box.left) * view.width / box.width, (event.clientY - box.top) * view.height / box.height];
  }

  picture.addEventListener("pointerdown", (event) => {
    const [x, y] = at(event);
    const near = flags.map((flag) => [Math.hypot(flag.x - x, flag.y - y), flag]).sort((a, b) => a[0] - b[0])[0];
    if (!near || near[0] > NEAR) return;
    held = near[1];
    from = y;
    wanted = held.density;
    place.classList.add("held");
    picture.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  picture.addEventListener("pointermove", (event) => {
    if (!held) return;
    wanted = Math.min(Math.max(held.density + (from - at(event)[1]) * held.each, 0), held.most);
    const shown = document.querySelector(`[data-wish="${held.name}"]`);
    if (shown) shown.textContent = wanted.toFixed(2);
  });
  picture.addEventListener("pointerup", () => {
    if (!held) return;
    const told = { ...wishes, [held.name]: wanted.toFixed(2) };
    held = null;
    place.classList.remove("held");
    location.assign(`/easel?${new URLSearchParams(told)}#pair`);
  });
  picture.addEventListener("pointercancel", () => { held = null; place.classList.remove("held"); });
})();
