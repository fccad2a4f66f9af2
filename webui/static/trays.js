// The prints in the simulated trays: an image comes up in the developer as its time goes by there.
"use strict";
(() => {
  const lead = document.querySelector("[data-lead]"), prints = [...document.querySelectorAll(".wet-print")];
  let lie = [], clock = 0, told = 0;

  function share(one, now) {
    if (!one.grows) return one.share;
    const { from_ms, shows_ms, usual_ms, growth, appears, reaches } = one.grows;
    const into = (now - from_ms - shows_ms) / usual_ms;
    return reaches * Math.min(1, Math.max(0, (1 - Math.exp(-growth * into)) / (1 - Math.exp(-growth * (1 - appears)))));
  }
  function come_up() {
    const now = clock + performance.now() - told;
    for (const one of lie) {
      const print = prints.find((each) => each.dataset.where === one.where);
      const seen = (clock ? share(one, now) : one.share).toFixed(2), front = print.lastElementChild;
      if (front.style.opacity !== seen) front.style.opacity = seen;
    }
  }
  function lay(words) {
    lie = JSON.parse(words);
    for (const print of prints) {
      const one = lie.findLast((each) => each.where === print.dataset.where), front = print.lastElementChild;
      print.classList.toggle("there", Boolean(one));
      const address = one ? `/practice/coming/${one.sheet}.png` : "";
      if (one && front.getAttribute("href") !== address) front.setAttribute("href", address);
    }
    come_up();
  }
  let laid = "[]";
  function look() {
    const words = lead.querySelector(".lead-now").dataset.wet;
    if (words === laid) return;
    laid = words;
    lay(words);
  }
  document.addEventListener("treadle-word", (event) => {
    clock = event.detail.clock_ms;
    told = performance.now();
    look();
  });
  setInterval(come_up, 100);
  look();
})();
