// Keeps a page true: the daemon's word by event stream, else by asking each second; dark when there is none for 2 s.
"use strict";
(() => {
  const QUIET_MS = 2000, POLL_MS = 1000, STREAM_AGAIN_MS = 30000;
  const root = document.documentElement, body = document.body;
  const part = root.dataset.part || "word", page = Math.random().toString(36).slice(2);
  const panel = document.querySelector("[data-panel]"), line = document.querySelector(".lit-line");
  const alarm = document.querySelector(".alarm"), said = document.querySelector(".said"), main = document.querySelector("main");
  const told = document.querySelector("[data-told]"), litRoom = Boolean(root.dataset.litRoom);
  let run = root.dataset.run, number = Number(root.dataset.number), heard = -1, last = performance.now(), polling = false, timer = 0, source = null;
  let acting = 0, loaded = null, mine = null, unreached = false, overtaken = false;

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

  // What is folded open or chosen in the panel outlives its being painted anew, where it is there again.
  function repaint(html) {
    const at = (thing) => [thing.closest("form").getAttribute("action"), thing.name, thing.value].join("\n");
    const title = (fold) => fold.querySelector("summary").textContent;
    const all = (what) => [...panel.querySelectorAll(what)];
    const open = new Set(all("details[open]").map(title));
    const folded = new Set(all("details").map(title));
    const chosen = new Set(all("details[open] input[type=radio]:checked").map(at));
    const focused = panel.contains(document.activeElement) ? document.activeElement.textContent : "";
    panel.innerHTML = html;
    all("details").forEach((fold) => { if (folded.has(title(fold))) fold.open = open.has(title(fold)); });
    all("input[type=radio]").forEach((radio) => { if (chosen.has(at(radio))) radio.checked = true; });
    const again = focused && all("button, summary").find((thing) => thing.textContent === focused);
    if (again) again.focus({ preventScroll: true });
  }

  // What the next sheet gets stands below the panel, by day alone: it is asked for anew with it, or not shown at all.
  const gets = document.querySelector("[data-gets]");
  let getsAsked = 0;
  async function getAnew() {
    const asked = (getsAsked += 1);
    let html = "";
    try {
      const answer = await fetch("/", { cache: "no-store", signal: AbortSignal.timeout(5000) });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      html = page.querySelector("[data-gets]").innerHTML;
    } catch { /* what may be untrue is taken away */ }
    if (asked === getsAsked && gets.innerHTML !== html) gets.innerHTML = html;
  }

  // For whoever cannot see it: what is next, said once it has changed.
  function tell() {
    const words = [...panel.querySelectorAll(".lies-ask:not(.lead), .lies.large .lies-tray > b:first-child, .lead, .big, .filter, .light, .hands")].map((one) => one.textContent.trim().replace(/\.$/, ""));
    const sentence = words.filter(Boolean).join(". ");
    if (told.textContent !== sentence) told.textContent = sentence;
  }

  // Two phones may choose at once: whoever was overtaken hears of it. Acts of this phone's own are waited for.
  function compare() {
    if (acting || loaded === null) return;
    if (mine !== null && loaded.id && loaded.id !== mine.id) {
      speak(body.dataset.byAnother.replace("%", () => loaded.title));
      overtaken = true;
    }
    mine = loaded;
  }

  // The last two minutes of the white page are told, so that it does not end under the hands.
  const left = document.querySelector(".day-left"), again = document.querySelector(".white-again"), noPaper = document.querySelector(".no-paper");
  let dayEnds = 0;
  function countDown() {
    const seconds = Math.ceil((dayEnds - performance.now()) / 1000);
    const shown = seconds > 0 && seconds <= 120 && root.classList.contains("day");
    if (!left) return;
    left.hidden = !shown;
    if (!shown) return;
    const words = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
    left.querySelector("span").textContent = left.dataset.words.replace("%", words);
  }
  setInterval(countDown, 500);

  // What the trays count down and fill, by the daemon's clock as the last word told it: a step a second, and no animation.
  let clockAt = 0;
  function count() {
    if (!clockAt) return;
    const now = clockAt + performance.now() - last;
    const shown = (one, words) => { if (one.textContent !== words) one.textContent = words; };
    for (const one of document.querySelectorAll("[data-until]")) {
      const seconds = Math.ceil(Math.max(0, one.dataset.until - now) * (one.dataset.hurry || 1) / 1000);
      shown(one, `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`);
    }
    for (const one of document.querySelectorAll(".full[data-to]")) {
      const from = Number(one.dataset.from), whole = Math.max(1, one.dataset.to - from);
      const share = Math.round(100 * Math.min(1, Math.max(0, (now - from) / whole)));
      if (one.getAttribute("width") !== String(share)) one.setAttribute("width", share);
    }
    for (const one of document.querySelectorAll("[data-safe]")) {
      const minutes = Math.floor((one.dataset.safe - now) / 60000), { words, under, over } = one.dataset;
      shown(one.firstElementChild, minutes > 0 ? words.replace("%", minutes) : one.dataset.safe > now ? under : over);
    }
  }
  setInterval(count, 250);

  function take(word) {
    last = performance.now();
    const day = word.day_ms > 0 || litRoom;
    if (unreached) { unreached = false; warn(""); }
    root.classList.remove("lost", "waiting");
    root.classList.toggle("day", day);
    root.classList.toggle("lit", word.lit);
    if (word.stop && !root.classList.contains("stop") && !day) scrollTo(0, 0);
    root.classList.toggle("stop", word.stop);
    line.textContent = word.line;
    dayEnds = word.day_ms > 0 ? last + word.day_ms : 0;
    countDown();
    if (again) again.hidden = day || !word.white;
    if (noPaper) noPaper.hidden = day || !word.no_paper;
    for (const one of document.querySelectorAll("[data-if-white]")) one.hidden = (one.dataset.ifWhite === "1") !== word.white;
    clockAt = word.clock_ms;
    if (root.dataset.needsDay) {
      if (!day && main.contains(document.activeElement)) document.activeElement.blur();
      main.inert = !day;
      warn(day ? "" : word.dark_why);
    } else warn("");
    if (word.html !== undefined && panel) {
      repaint(word.html);
      tell();
      if (gets && day) getAnew();
    }
    count();
    if (word.run !== run) {
      heard = -1;
      mine = null;
    }
    if (word.stop && overtaken) {
      overtaken = false;
      speak("");
    }
    loaded = word.loaded;
    compare();
    run = word.run;
    number = word.number;
    if (word.heard_to !== undefined) heard = word.heard_to;
    document.dispatchEvent(new CustomEvent("treadle-word", { detail: word }));
  }

  function lose() {
    if (!litRoom) root.classList.remove("day");
    root.classList.remove("lit");
    root.classList.add("lost");
    if (root.dataset.needsDay) main.inert = true;
    if (again) again.hidden = true;
    if (noPaper) noPaper.hidden = true;
    warn(unreached ? body.dataset.unreached : body.dataset.lost);
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
    if (!litRoom) root.classList.remove("day");
    root.classList.remove("lit");
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
    const again = () => {
      unreached = true;
      if (tries > 1) setTimeout(stop, 150, tries - 1);
      lose();
    };
    fetch("/stop", { method: "POST", headers: { Accept: "application/json" }, keepalive: true, signal: AbortSignal.timeout(1000) })
      .then((answer) => { if (!answer.ok) again(); }, again);
  }

  async function act(form, pressed) {
    const buttons = form.querySelectorAll("button"), fields = new FormData(form);
    if (pressed && pressed.name) fields.append(pressed.name, pressed.value);
    buttons.forEach((button) => { button.disabled = true; });
    if (form.matches("[data-now]")) {  // asked for on what the page has been told since
      fields.set("number", number);
      fields.set("run", run);
    }
    acting += 1;
    try {
      const answer = await fetch(`${form.getAttribute("action")}?part=${part}`, {
        method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(fields),
      });
      const word = await answer.json();
      if (answer.ok) {
        speak("");
        mine = word.loaded;
        if (form.dataset.then) return location.assign(form.dataset.then);
        if (word.run !== run || word.number >= number) take(word);
      } else {
        speak(word.refusal);
        number = -1;
        listen();
      }
    } catch {
      speak(body.dataset.lost);
    }
    acting -= 1;
    compare();
    buttons.forEach((button) => { button.disabled = false; });
  }

  // How bright the red is: taken over where one is, in every place of the page that tells it.
  async function redden(form) {
    const words = form.querySelector("button").textContent;
    try {
      const answer = await fetch(form.getAttribute("action"), {
        method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(new FormData(form)),
      });
      const word = await answer.json();
      if (!answer.ok) return speak(word.refusal);
      root.dataset.red = word.red;
      const place = form.closest("[data-redder]");
      place.innerHTML = word.html;
      const same = [...place.querySelectorAll("button, summary")].find((thing) => thing.textContent === words);
      (same || place.querySelector("button:enabled")).focus({ preventScroll: true });
    } catch {
      speak(body.dataset.lost);
    }
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
      act(form, event.submitter);
    } else if (form.matches("[data-red-to]")) {
      event.preventDefault();
      redden(form);
    }
  });

  const full = document.querySelector(".full");
  if (full && root.requestFullscreen) {
    full.hidden = false;
    full.addEventListener("click", () => root.requestFullscreen().then(() => { full.hidden = true; }, () => {}));
  }

  // What a page of its own asks for and loads is this phone's own choice, too.
  async function asking(work) {
    acting += 1;
    const told = await work;
    if (told && told.loaded) mine = loaded = told.loaded;
    acting -= 1;
    compare();
  }

  window.treadle = { page, warn, asking };
  listen();
})();
