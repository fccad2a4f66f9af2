// Plays the sound whose button was pressed; the one before it falls silent.
"use strict";
(() => {
  const SOON_S = 0.05; // a little late, so that the first note is whole
  let audio = null;

  document.querySelector(".sheet-of-paper").addEventListener("click", (event) => {
    const button = event.target.closest("button[data-notes]");
    if (!button) return;
    if (audio) audio.close();
    audio = new AudioContext();
    window.treadle.play(audio, JSON.parse(button.dataset.notes), audio.currentTime + SOON_S);
  });
  addEventListener("pagehide", () => { if (audio) audio.close(); audio = null; });
})();
