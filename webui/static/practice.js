// The simulated darkroom: the pointer is the contact, the browser's audio is the sounder. The keeper does the rest.
"use strict";
(() => {
  const treadle = document.querySelector(".treadle"), scene = document.querySelector(".window"), room = document.querySelector(".room");
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
    trodden = performance.now();
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
  // A screen reader's click brings no pointer and no key: it is a short press.
  let trodden = 0;
  treadle.addEventListener("click", (event) => {
    event.preventDefault();
    if (performance.now() - trodden < 700 || down) return;
    set(true);
    setTimeout(lift, 150);
  });
  addEventListener("pointerdown", () => { tabbed = false; wake(); });
  const FOOT_KEYS = ["Space", "Enter", "NumpadEnter"];
  function isFoot(event) {
    const at = document.activeElement;
    // A button that a mouse has pressed keeps the focus; the keys are the foot all the same, until Tab is used.
    if (event.code === "Tab") tabbed = true;
    if (!FOOT_KEYS.includes(event.code) || event.ctrlKey || event.altKey || event.metaKey) return false;
    if (at.matches("input, select, textarea")) return false;
    return !tabbed || at === treadle || at === document.body;
  }
  addEventListener("keydown", (event) => {
    if (!isFoot(event)) return;
    event.preventDefault();
    if (event.repeat) return;
    wake();
    set(true);
  });
  addEventListener("keyup", (event) => {
    if (!FOOT_KEYS.includes(event.code) || !down) return;
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

  // ---- what is touched: forms, and what is drawn

  function send(address, body, button) {
    const words = button && button.dataset.busy ? button.textContent : "";
    if (words) { button.textContent = button.dataset.busy; button.disabled = true; }
    return window.treadle.asking(fetch(address, { method: "POST", headers: { Accept: "application/json" }, body })
      .then((answer) => answer.json().then((told) => { window.treadle.warn(told.refusal || ""); return told; }))
      .catch(() => {}))
      .then(() => { if (words) { button.textContent = words; button.disabled = false; } });
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-practice]")) return;
    event.preventDefault();
    const body = new URLSearchParams(new FormData(form));
    if (event.submitter && event.submitter.name) body.set(event.submitter.name, event.submitter.value);
    send(form.getAttribute("action"), body, event.submitter);
  });

  function hand(fields, address = "/practice/hand") {
    return send(address, new URLSearchParams({ ...fields, token }));
  }
  const touches = {
    drawer() {
      const wanted = scene.dataset.filter;
      hand({ filter: wanted || "" }, "/practice/filter");
    },
    card() { hand({ what: "card-on" }); },
    paper() { hand({ what: room.dataset.paper === "lies" ? "paper-away" : "paper-out" }); },
    negative() { hand({ what: { empty: "negative-in", negative: room.dataset.second ? "negative-b-in" : "negative-out" }[room.dataset.carrier] || "negative-out" }); },
    lid() { hand({ lid: room.dataset.lid === "open" ? "shut" : "open" }, "/practice/lid"); },
    trays() {
      const button = document.querySelector("[data-lead] form[action='/practice/develop'] button");
      if (button) button.click();
    },
    tool(one) { hand({ what: one.dataset.inside === "true" ? "tool-out" : "tool-in", of: one.dataset.area, act: one.dataset.act }); },
  };
  room.addEventListener("click", (event) => {
    const one = event.target.closest("[data-press]");
    if (one) touches[one.dataset.press](one);
  });
  room.addEventListener("keydown", (event) => {
    const one = event.target.closest("[data-press]");
    if (!one || !tabbed || !FOOT_KEYS.includes(event.code) || event.repeat) return;
    event.preventDefault();
    touches[one.dataset.press](one);
  });

  // ---- a band of the print is tapped

  const lead = document.querySelector("[data-lead]"), leadTold = document.querySelector("[data-lead-told]");
  let picked = "";
  function pick(mark, again = false) {
    picked = mark;
    for (const form of lead.querySelectorAll(".pick-one")) form.classList.toggle("picked", form.id === mark);
    for (const link of lead.querySelectorAll(".in-tray a")) link.classList.toggle("picked", link.getAttribute("href") === `#${mark}`);
    const chosen = lead.querySelector(".pick-one.picked");
    if (chosen && !again) chosen.scrollIntoView({ block: "nearest" });
  }
  lead.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#pick-']");
    if (!link) return;
    event.preventDefault();
    pick(link.getAttribute("href").slice(1));
  });
  function take(html) {
    const had = lead.contains(document.activeElement);
    lead.innerHTML = html;
    dress();
    if (had) (lead.querySelector("button") || treadle).focus({ preventScroll: true });
  }
  function dress() {
    const now = lead.querySelector(".lead-now"), was = scene.dataset.view, sentence = now.querySelector(".lead-words").textContent;
    if (leadTold.textContent !== sentence) leadTold.textContent = sentence; // said aloud once it has changed
    scene.dataset.touch = now.dataset.touch;
    scene.dataset.view = now.dataset.view;
    scene.dataset.filter = now.dataset.filter;
    if (now.dataset.view !== "print") picked = "";
    else if (picked) pick(picked, true);
    if (was !== now.dataset.view) scrollTo(0, 0);
    if (now.dataset.hung !== undefined) hang_up(now.dataset.hung.split(" ").filter(Boolean));
    want();
  }
  // The last prints hang on the line.
  function hang_up(sheets) {
    room.querySelectorAll(".hung").forEach((one, place) => {
      const sheet = sheets[place], picture = one.querySelector(".print-front");
      one.classList.toggle("there", Boolean(sheet));
      const address = sheet ? `/practice/print/${sheet}.png?small=1` : "";
      if (sheet && picture.getAttribute("href") !== address) picture.setAttribute("href", address);
    });
  }
  function want() {
    for (const button of rack.children) button.toggleAttribute("data-wanted", Boolean(button.value) && button.value === scene.dataset.filter);
  }

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

  // ---- the baseboard: what lies on it, what stands in the light, and what falls on it

  const easel = JSON.parse(room.dataset.easel), falls = room.querySelector(".falls");
  const card = room.querySelector(".card"), tools = room.querySelector("[data-tools]"), held = room.querySelector("[data-held]");
  const LIFT = 22;
  let looked = "", looks = 0;

  function at(u, v, lift = 0) {
    return `${(easel.left + u * easel.across + v * easel.dx).toFixed(1)} ${(easel.front - v * easel.dy - lift).toFixed(1)}`;
  }
  function quad(u0, u1, v0, v1, lift = 0) {
    return `M${at(u0, v0, lift)} L${at(u1, v0, lift)} L${at(u1, v1, lift)} L${at(u0, v1, lift)} Z`;
  }
  function draw(name, attributes, into) {
    const made = document.createElementNS(room.namespaceURI, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    into.append(made);
    return made;
  }

  function lay_card(stage) {
    card.toggleAttribute("hidden", !stage.bands);
    if (!stage.bands) return;
    const [face, shadow, tab] = [".card-face", ".card-shadow", ".card-tab"].map((each) => card.querySelector(each));
    const [way, place] = stage.card || ["cover", stage.bands];
    if (way === "window" && stage.card) {
      const [from, to] = [(place - 1) / stage.bands, place / stage.bands];
      face.setAttribute("d", quad(-0.28, 1.28, -0.1, 1.1, LIFT) + quad(from, to, -0.02, 1.02, LIFT));
      shadow.setAttribute("d", "");
      tab.setAttribute("d", quad(-0.36, -0.28, 0.35, 0.65, LIFT));
      return;
    }
    const covered = 1 - Math.min(Math.max(place, 0), stage.bands) / stage.bands;
    // With every band open it lies beside the easel.
    const over = stage.card !== null && covered > 0, lift = over ? LIFT : 0;
    const to = over ? covered : -0.13, from = over ? -0.12 - 0.2 * (1 - covered) : -0.36;
    face.setAttribute("d", quad(from, to, -0.12, 1.12, lift));
    shadow.setAttribute("d", over ? quad(from, to, -0.12, 1.12) : "");
    tab.setAttribute("d", quad(from - 0.08, from, 0.36, 0.64, lift));
  }

  function lay_tools(stage) {
    tools.replaceChildren();
    held.replaceChildren();
    stage.tools.forEach((tool, place) => {
      const label = room.dataset[`tool${{ dodge: "Dodge", burn: "Burn", "edge burn": "EdgeBurn" }[tool.act]}`].replace("%", tool.area);
      const one = draw("g", { class: "touch tool", role: "button", tabindex: "0", "data-press": "tool", "data-act": tool.act, "data-area": tool.area, "data-inside": String(tool.inside), "aria-label": label, "aria-pressed": String(tool.inside) }, tool.inside ? held : tools);
      const name = tool.area.length > 1 ? tool.area[0].toUpperCase() : tool.area;
      if (tool.inside) hold(one, tool, name);
      else hang(one, tool, name, 458 + place * 46);
    });
  }
  function hang(one, tool, name, x) {
    if (tool.act === "dodge") {
      draw("path", { class: "wire", d: `M${x} 144 q8 6 0 14 V190` }, one);
      draw("circle", { class: "disc", cx: x, cy: 206, r: 16 }, one);
      draw("text", { x, y: 211, "text-anchor": "middle" }, one).textContent = name;
    } else {
      draw("path", { class: "hole-card", "fill-rule": "evenodd", d: `M${x - 20} 150 h40 v54 h-40 Z M${x - 8} 168 a8 8 0 1 0 16 0 a8 8 0 1 0 -16 0` }, one);
      draw("text", { x, y: 198, "text-anchor": "middle" }, one).textContent = name;
    }
    draw("path", { class: "hit", d: `M${x - 22} 140 h44 v88 h-44 Z` }, one);
  }
  function hold(one, tool, name) {
    const [, u, down] = easel.middles.find(([letter]) => letter === tool.area) || ["", 0.5, 0.5];
    const [x, y] = at(u, 1 - down, 40).split(" ").map(Number);
    if (tool.act === "dodge") {
      draw("path", { class: "wire", d: `M${x + 20} ${y + 2} Q${x + 120} ${y + 10} 560 ${y + 70}` }, one);
      draw("ellipse", { class: "disc", cx: x, cy: y, rx: 22, ry: 11 }, one);
      draw("path", { class: "hit", d: `M${x - 28} ${y - 18} h56 v36 h-56 Z` }, one);
    } else if (tool.act === "burn") {
      draw("path", { class: "hole-card", "fill-rule": "evenodd", "fill-opacity": ".88", d: `${quad(-0.2, 1.2, -0.1, 1.1, 40)} M${x - 24} ${y} a24 13 0 1 0 48 0 a24 13 0 1 0 -48 0` }, one);
      draw("path", { class: "hit", d: quad(-0.2, 1.2, -0.1, 1.1, 40) }, one);
    } else {
      const open = { top: [0, 1, 0, 0.78], bottom: [0, 1, 0.22, 1], left: [0.22, 1, 0, 1], right: [0, 0.78, 0, 1] }[tool.area] || [0, 1, 0, 0.78];
      draw("path", { class: "hole-card", d: quad(open[0] - 0.1, open[1] + 0.1, open[2] - 0.05, open[3] + 0.05, 40) }, one);
      draw("path", { class: "hit", d: quad(...open, 40) }, one);
    }
    draw("text", { x, y: y + 5, "text-anchor": "middle" }, one).textContent = tool.act === "dodge" ? name : "";
  }

  function pressed(what, on) {
    room.querySelector(`[data-press=${what}]`).setAttribute("aria-pressed", String(on));
  }
  function lay_out(stage) {
    room.dataset.paper = stage.paper ? "lies" : "none";
    Object.assign(room.dataset, { carrier: stage.carrier, second: stage.lies.second });
    pressed("paper", stage.paper);
    pressed("negative", stage.carrier.startsWith("negative"));
    lay_card(stage);
    lay_tools(stage);
    look(JSON.stringify(stage));
  }

  // The picture is fetched before the light comes on, so that it is there when it does.
  function look(what) {
    if (what === looked || !room.dataset.pictures) return;
    looked = what;
    falls.setAttribute("href", `/practice/board.png?look=${looks += 1}`);
  }
  falls.addEventListener("error", () => falls.removeAttribute("href"));

  function show(view) {
    scene.dataset.lamp = view.lit ? "lit" : "dark";
    room.dataset.filter = view.filter_in_drawer;
    room.dataset.lid = view.lid_open ? "open" : "shut";
    pressed("lid", view.lid_open);
    room.querySelector("[data-drawer-name]").textContent = view.filter_in_drawer;
    lightWords.textContent = lightWords.dataset.lightWords.replace("%", view.light_s.toFixed(1));
    treadle.classList.toggle("closed", view.contact_closed);
    press("/practice/filter", view.filter_in_drawer);
    press("/practice/lid", view.lid_open ? "open" : "shut");
    for (const [name, on] of view.outlets) {
      const outlet = document.querySelector(`[data-outlet="${name}"]`);
      if (outlet) outlet.textContent = on ? outlet.dataset.on : outlet.dataset.off;
    }
    count();
  }

  // While a light is on, what of it is still to come.
  let dark_at = 0;
  function count() {
    const lit = scene.dataset.lamp === "lit", left = dark_at - performance.now();
    lampWords.textContent = !lit ? lampWords.dataset.dark
      : left > 0 ? lampWords.dataset.left.replace("%", (left / 1000).toFixed(0)) : lampWords.dataset.lit;
    return lit;
  }
  setInterval(() => { if (scene.dataset.lamp === "lit") count(); }, 250);

  // ---- the ears

  const BEHIND_S = 0.12; // cues come in bunches; played a little late they keep their rhythm
  let audio = null, loud = true, skew = Infinity;

  function wake() {
    if (!loud) return;
    audio ||= new AudioContext();
    if (audio.state === "suspended") audio.resume();
  }

  const last = document.querySelector("[data-last-heard]");
  function write(words) {
    last.textContent = words;
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
      window.treadle.play(audio, cue.notes, Math.max(here, cue.at_ms / 1000 + skew + BEHIND_S));
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

  const glass = document.querySelector(".glass");
  let shown = "";
  const phoneLit = document.querySelector("[data-phone-lit]");
  document.addEventListener("treadle-word", (event) => {
    const word = event.detail;
    phoneLit.textContent = word.line;
    if (word.place !== shown) glass.scrollTop = 0;
    shown = word.place;
    if (word.left_ms !== undefined) dark_at = performance.now() + word.left_ms;
    if (word.filters) lay(word.filters);
    if (word.lead !== undefined) take(word.lead);
    if (word.view) show(word.view);
    if (word.stage) lay_out(word.stage);
    if (word.heard) hear(word.heard);
  });
  lay_out(JSON.parse(room.dataset.stage));
  dress();
})();
