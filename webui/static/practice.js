// The simulated darkroom: the pointer is the contact, the browser's audio is the sounder. The keeper does the rest.
"use strict";
(() => {
  const treadle = document.querySelector(".treadle"), lamp = document.querySelector("[data-lamp]");
  const lampWords = document.querySelector("[data-lamp-words]"), lightWords = document.querySelector("[data-light-words]");
  const list = document.querySelector("[data-heard]"), sounds = document.querySelector(".sounds");
  const page = window.treadle.page, token = treadle.dataset.token;
  let down = false, tabbed = false, pointer = null, tread = 0, sent = Promise.resolve();

  // ---- the foot

  function fields(closed) {
    return new URLSearchParams({ closed: closed ? "1" : "0", tread: String(tread), page, token });
  }

  function set(closed) {
    if (closed === down) return;
    down = closed;
    tread += 1;
    treadle.classList.toggle("down", closed);
    const body = fields(closed);
    // One after the other, so that no edge overtakes another.
    sent = sent.then(() => fetch("/practice/contact", { method: "POST", headers: { Accept: "application/json" }, body, keepalive: true }))
      .then((answer) => { if (!answer.ok) return answer.json().then((told) => window.treadle.warn(told.refusal)); }, () => {});
  }

  function lift() {
    pointer = null;
    set(false);
  }

  treadle.addEventListener("pointerdown", (event) => {
    if (pointer !== null || event.button !== 0) return;
    event.preventDefault();
    treadle.focus({ preventScroll: true });
    pointer = event.pointerId;
    treadle.setPointerCapture(pointer);
    wake();
    set(true);
  });
  for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) {
    treadle.addEventListener(end, (event) => { if (event.pointerId === pointer) lift(); });
  }
  treadle.addEventListener("contextmenu", (event) => event.preventDefault());
  treadle.addEventListener("click", (event) => event.preventDefault());
  addEventListener("pointerdown", () => { tabbed = false; wake(); });
  addEventListener("keydown", (event) => {
    const at = document.activeElement;
    // A button that a mouse has pressed keeps the focus; the space bar is the foot all the same, until Tab is used.
    if (event.code === "Tab") tabbed = true;
    if (event.code !== "Space" || (tabbed && at !== treadle && at !== document.body)) return;
    event.preventDefault();
    if (event.repeat) return;
    wake();
    set(true);
  });
  addEventListener("keyup", (event) => {
    if (event.code !== "Space" || !down) return;
    event.preventDefault();
    lift();
  });
  addEventListener("blur", lift);
  document.addEventListener("visibilitychange", () => { if (document.hidden) lift(); });
  addEventListener("pagehide", () => {
    if (!down) return;
    down = false;
    tread += 1;
    navigator.sendBeacon("/practice/contact", fields(false));
  });

  // ---- drawer and lid

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-practice]")) return;
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form));
    body.set(event.submitter.name, event.submitter.value);
    fetch(form.getAttribute("action"), { method: "POST", headers: { Accept: "application/json" }, body })
      .then((answer) => (answer.ok ? seen = "" : answer.json().then((told) => window.treadle.warn(told.refusal))), () => {});
  });

  function press(form, value) {
    for (const button of document.querySelectorAll(`form[action="${form}"] button`)) {
      button.setAttribute("aria-pressed", String(button.value === value));
    }
  }

  // The filters beside the drawer are those that the sheet asks for, and it may just have been loaded.
  const rack = document.querySelector("[data-rack]");
  function lay(filters) {
    const there = [...rack.children], none = there[there.length - 1];
    for (const button of there.slice(0, -1)) if (!filters.includes(button.value)) button.remove();
    for (const [place, name] of filters.entries()) {
      let button = there.find((each) => each.value === name);
      if (!button) {
        button = none.cloneNode();
        button.value = button.textContent = name;
        button.setAttribute("aria-pressed", "false");
      }
      if (rack.children[place] !== button) rack.insertBefore(button, rack.children[place]);
    }
  }

  // ---- the baseboard, in the day face alone; its words come with the page

  const board = document.querySelector("[data-board]");
  let seen = null, looks = 0;

  function look(what) {
    const day = document.documentElement.classList.contains("day");
    if (!board || !day || what === seen) return;
    if (seen !== null || what.startsWith("true")) board.src = `/practice/board.png?look=${looks += 1}`;
    seen = what;
  }

  function show(view) {
    lamp.dataset.lamp = view.lit ? "lit" : "dark";
    lamp.dataset.filter = view.filter_in_drawer;
    lampWords.textContent = view.lit ? lampWords.dataset.lit : lampWords.dataset.dark;
    lightWords.textContent = lightWords.dataset.lightWords.replace("%", view.light_s.toFixed(1));
    treadle.classList.toggle("closed", view.contact_closed);
    press("/practice/filter", view.filter_in_drawer);
    for (const [name, on] of view.outlets) {
      const words = document.querySelector(`[data-outlet="${name}"]`);
      if (words) words.textContent = on ? words.dataset.on : words.dataset.off;
    }
    press("/practice/lid", view.lid_open ? "open" : "shut");
    const box = document.querySelector("[data-box]");
    if (box) box.textContent = view.lid_open ? box.dataset.open : box.dataset.shut;
    look(`${view.lit} ${view.lid_open}`);
  }

  // ---- the ears

  const BEHIND_S = 0.12; // cues come in bunches; played a little late they keep their rhythm
  let audio = null, loud = true, skew = Infinity;

  function wake() {
    if (!loud) return;
    audio ||= new AudioContext();
    if (audio.state === "suspended") audio.resume();
  }

  function play(notes, at) {
    let when = at;
    for (const [hertz, ms] of notes) {
      const seconds = ms / 1000;
      if (hertz) {
        const tone = audio.createOscillator(), level = audio.createGain();
        tone.type = "triangle";
        tone.frequency.value = hertz;
        level.gain.setValueAtTime(0.0001, when);
        level.gain.exponentialRampToValueAtTime(0.4, when + 0.006);
        level.gain.exponentialRampToValueAtTime(0.12, when + Math.max(0.02, seconds * 0.6));
        level.gain.exponentialRampToValueAtTime(0.0001, when + seconds + 0.02);
        tone.connect(level).connect(audio.destination);
        tone.start(when);
        tone.stop(when + seconds + 0.03);
      }
      when += seconds;
    }
  }

  function write(words) {
    const first = list.firstElementChild;
    if (first && first.dataset.words === words) {
      first.dataset.times = Number(first.dataset.times) + 1;
      first.textContent = `${words} × ${first.dataset.times}`;
      return;
    }
    const item = document.createElement("li");
    item.dataset.words = item.textContent = words;
    item.dataset.times = 1;
    list.prepend(item);
    while (list.children.length > 7) list.lastChild.remove();
  }

  function hear(cues) {
    for (const cue of cues) {
      write(cue.words);
      if (!audio || !loud || audio.state !== "running") continue;
      const here = audio.currentTime;
      skew = Math.min(skew, here - cue.at_ms / 1000);
      play(cue.notes, Math.max(here, cue.at_ms / 1000 + skew + BEHIND_S));
    }
  }

  sounds.hidden = false;
  function tell() {
    sounds.textContent = loud ? sounds.dataset.on : sounds.dataset.off;
    sounds.setAttribute("aria-pressed", String(loud));
  }
  sounds.addEventListener("click", () => {
    loud = !loud;
    if (loud) wake();
    else if (audio) { audio.close(); audio = null; skew = Infinity; }
    tell();
  });
  tell();

  document.addEventListener("treadle-word", (event) => {
    if (event.detail.filters) lay(event.detail.filters);
    if (event.detail.view) show(event.detail.view);
    if (event.detail.heard) hear(event.detail.heard);
  });
})();
