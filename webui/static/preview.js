// A tap on a print asks for the density under the finger; without this the one in the middle is told.
"use strict";
document.querySelectorAll("[data-tap]").forEach((link) => {
  link.addEventListener("click", (event) => {
    const box = link.querySelector("img").getBoundingClientRect();
    if (!event.detail || !box.width) return; // by a key: the middle
    event.preventDefault();
    const share = (at, from, size) => Math.min(1, Math.max(0, (at - from) / size)).toFixed(4);
    location.assign(
      `${link.dataset.tap}&x=${share(event.clientX, box.left, box.width)}&y=${share(event.clientY, box.top, box.height)}#there`,
    );
  });
});
