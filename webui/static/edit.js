// Lets a form be seen while it is typed: the review, the seconds beside each line, the sentence beside its field.
"use strict";
(() => {
  const form = document.querySelector("form[data-review]");
  if (!form) return;
  const PAUSE_MS = 450;
  let timer = 0, asking = null;

  function take(text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    const look = page.getElementById("look");
    if (!look) return;
    document.getElementById("look").replaceWith(document.importNode(look, true));
    ["look-strip", "look-line"].forEach((id) => {
      const fresh = page.getElementById(id), shown = document.getElementById(id);
      if (fresh && shown) shown.replaceWith(document.importNode(fresh, true));
    });
    const told = page.querySelector("[data-beside]");
    form.querySelectorAll("[data-beside]").forEach((place) => {
      const mine = told && told.dataset.beside === place.dataset.beside && told.dataset.beside !== "";
      place.textContent = mine ? told.textContent : "";
    });
    form.querySelectorAll("[aria-invalid]").forEach((input) => input.removeAttribute("aria-invalid"));
    // What is wrong inside a shut fold marks the fold: the row says where to look.
    form.querySelectorAll("details").forEach((fold) => {
      fold.classList.toggle("wrong", [...fold.querySelectorAll("[data-beside]")].some((place) => place.textContent !== ""));
    });
    page.querySelectorAll("[data-live]").forEach((live) => {
      const mine = form.querySelector(`[data-live="${live.dataset.live}"]`);
      if (mine && mine.textContent !== live.textContent) mine.textContent = live.textContent;
    });
    page.querySelectorAll("[data-worth]").forEach((worth) => {
      const mine = form.querySelector(`output[data-worth="${worth.dataset.worth}"]`);
      if (mine) mine.textContent = worth.textContent;
    });
    page.querySelectorAll("select").forEach((fresh) => {
      const mine = form.elements[fresh.name];
      if (!mine || mine === document.activeElement || mine.options.length !== fresh.options.length) return;
      [...fresh.options].forEach((option, at) => { mine.options[at].textContent = option.textContent; });
    });
  }

  async function ask() {
    if (asking) asking.abort();
    asking = new AbortController();
    try {
      const answer = await fetch(form.dataset.review, {
        method: "POST", headers: { Accept: "text/html" }, cache: "no-store", signal: asking.signal,
        body: new URLSearchParams(new FormData(form)),
      });
      if (answer.ok || answer.status === 422) take(await answer.text());
    } catch { /* a review that does not come leaves the last one standing, greyed */ }
  }

  function soon() {
    document.querySelectorAll("#look, #look-strip, #look-line").forEach((part) => part.classList.add("stale"));
    clearTimeout(timer);
    timer = setTimeout(ask, PAUSE_MS);
  }

  form.addEventListener("input", soon);
  form.addEventListener("change", soon);
  form.querySelectorAll("[data-turn]").forEach((button) => button.addEventListener("click", (event) => {
    const other = { cover: "uncover", uncover: "cover" }[form.elements.card.value];
    if (!other) return;
    event.preventDefault();
    form.elements.card.value = other;
    soon();
  }));
})();
