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
  // At the sounder: asked for without leaving the page; what refuses it stands at the top.
  const said = document.querySelector(".said");
  document.querySelector("#hear").addEventListener("submit", async (event) => {
    event.preventDefault();
    const asked = new URLSearchParams(new FormData(event.target, event.submitter));
    try {
      const answer = await fetch("/sounds/hear", { method: "POST", headers: { Accept: "application/json" }, body: asked });
      said.textContent = answer.ok ? "" : (await answer.json()).refusal;
    } catch {
      said.textContent = document.body.dataset.lost;
    }
    if (said.textContent) said.scrollIntoView({ block: "nearest" });
  });
  addEventListener("pagehide", () => { if (audio) audio.close(); audio = null; });
})();
