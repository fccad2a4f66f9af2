// Keeps a page true: the daemon's word by event stream, else by asking each second; dark when there is none for 2 s.
"use strict";
(() => {
  const QUIET_MS = 2000, POLL_MS = 1000, STREAM_AGAIN_MS = 30000;
  const root = document.documentElement, body = document.body;
  const part = root.dataset.part || "word", page = Math.random().toString(36).slice(2);
  const panel = document.querySelector("[data-panel]"), line = document.querySelector(".lit-line");
  const alarm = document.querySelector(".alarm"), said = document.querySelector(".said"), main = document.querySelector("main");
  let run = root.dataset.run, number = Number(root.dataset.number), heard = -1, last = performance.now(), polling = false, timer = 0, source = null;

  function address(path) {
    return `${path}?part=${part}&run=${run}&number=${number}&heard=${heard}&page=${page}`;
  }

  function warn(words) {
    if (alarm.textContent !== words) alarm.textContent = words;
    alarm.hidden = !words;
  }

  function speak(words) {
    said.textContent = words;
    if (words) said.scrollIntoView({ block: "nearest" });
  }

  // ---- taking a word in

  function take(word) {
    last = performance.now();
    const day = word.day_ms > 0;
    root.classList.remove("lost", "waiting");
    root.classList.toggle("day", day);
    root.classList.toggle("lit", word.lit);
    if (word.stop && !root.classList.contains("stop") && !day) scrollTo(0, 0);
    root.classList.toggle("stop", word.stop);
    line.textContent = word.line;
    if (root.dataset.needsDay) {
      if (!day && main.contains(document.activeElement)) document.activeElement.blur();
      main.inert = !day;
      warn(day ? "" : word.dark_why);
    } else warn("");
    if (word.html !== undefined && panel) panel.innerHTML = word.html;
    if (word.run !== run) heard = -1;
    run = word.run;
    number = word.number;
    if (word.heard_to !== undefined) heard = word.heard_to;
    document.dispatchEvent(new CustomEvent("treadle-word", { detail: word }));
  }

  function lose() {
    root.classList.remove("day", "lit");
    root.classList.add("lost");
    if (root.dataset.needsDay) main.inert = true;
    warn(body.dataset.lost);
  }

  // ---- where words come from

  function listen() {
    hush();
    if (document.hidden) return;
    source = new EventSource(address("/live"));
    source.onmessage = (event) => take(JSON.parse(event.data));
    source.addEventListener("again", listen);
    source.onerror = () => {
      if (source && source.readyState === EventSource.CLOSED) poll();
    };
  }

  function hush() {
    polling = false;
    clearTimeout(timer);
    if (source) source.close();
    source = null;
  }

  function poll() {
    hush();
    polling = true;
    const since = performance.now();
    const ask = async () => {
      try {
        const answer = await fetch(address("/status.json"), { cache: "no-store", signal: AbortSignal.timeout(1500) });
        if (answer.status === 403) location.replace("/");
        if (answer.ok && polling) take(await answer.json());
      } catch { /* the silence itself is noticed below */ }
      if (!polling) return;
      if (performance.now() - since > STREAM_AGAIN_MS) listen();
      else timer = setTimeout(ask, POLL_MS);
    };
    ask();
  }

  setInterval(() => {
    if (document.hidden || performance.now() - last < QUIET_MS) return;
    lose();
    if (!polling) poll();
  }, 200);

  // A page that goes out of sight goes dark, so that it comes back dark, from the back-forward cache too.
  function leave() {
    hush();
    root.classList.remove("day", "lit");
    root.classList.add("waiting");
  }
  function come() {
    last = performance.now();
    listen();
  }
  addEventListener("pagehide", leave);
  addEventListener("pageshow", (event) => { if (event.persisted) { leave(); come(); } });
  document.addEventListener("visibilitychange", () => (document.hidden ? leave() : come()));

  // ---- acting

  function stop(tries = 5) {
    const again = () => { if (tries > 1) setTimeout(stop, 150, tries - 1); else lose(); };
    fetch("/stop", { method: "POST", headers: { Accept: "application/json" }, keepalive: true })
      .then((answer) => { if (!answer.ok) again(); }, again);
  }

  async function act(form) {
    const buttons = form.querySelectorAll("button");
    buttons.forEach((button) => { button.disabled = true; });
    try {
      const answer = await fetch(`${form.getAttribute("action")}?part=${part}`, {
        method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(new FormData(form)),
      });
      const word = await answer.json();
      if (answer.ok) {
        speak("");
        if (word.run !== run || word.number >= number) take(word);
      } else {
        speak(word.refusal);
        number = -1;
        listen();
      }
    } catch {
      speak(body.dataset.lost);
    }
    buttons.forEach((button) => { button.disabled = false; });
  }

  document.addEventListener("pointerdown", (event) => {
    if (event.target.closest(".stopper")) stop();
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.matches(".stopper")) {
      event.preventDefault();
      stop();
    } else if (form.matches("[data-act]")) {
      event.preventDefault();
      act(form);
    }
  });

  const full = document.querySelector(".full");
  if (full && root.requestFullscreen) {
    full.hidden = false;
    full.addEventListener("click", () => root.requestFullscreen().then(() => { full.hidden = true; }, () => {}));
  }

  window.treadle = { page, warn };
  listen();
})();
