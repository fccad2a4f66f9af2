// Keeps what is typed: a draft of each form in this tab, put back on return, dropped once the form was kept.
"use strict";
(() => {
  const PAUSE_MS = 250, MOST = 20, HEAD = "treadle-draft ";
  const PASSING = new Set(["said", "kept", "done", "undo", "q"]);
  const root = document.documentElement, main = document.querySelector("main");
  const line = document.querySelector(".draft"), words = document.querySelector("[data-draft-words]");
  const answered = Boolean(root.dataset.home);

  // ---- where drafts lie

  function home(form) {
    const at = new URL(root.dataset.home || location.href, location.href);
    if (form.method === "get") return at.pathname;
    // what was searched for meanwhile, and an empty field that a search leaves out, make no other page of it
    [...at.searchParams].forEach(([name, value]) => { if (!value || PASSING.has(name)) at.searchParams.delete(name); });
    at.searchParams.sort();
    return at.pathname + at.search;
  }
  const keyOf = (form) => `${HEAD}${home(form)} ${new URL(form.getAttribute("action"), location.href).pathname}`;

  function read(key) {
    try {
      return JSON.parse(sessionStorage.getItem(key));
    } catch {
      return null;
    }
  }
  function all() {
    try {
      return Object.keys(sessionStorage).filter((key) => key.startsWith(HEAD));
    } catch {
      return [];
    }
  }
  function drop(key) {
    try {
      sessionStorage.removeItem(key);
    } catch { /* without storage there is no draft */ }
  }
  function write(key, draft) {
    const others = all().filter((other) => other !== key);
    others.sort((one, two) => (read(one)?.at || 0) - (read(two)?.at || 0));
    others.slice(0, Math.max(0, others.length - MOST + 1)).forEach(drop);
    try {
      sessionStorage.setItem(key, JSON.stringify(draft));
    } catch { /* full: the form itself still has it */ }
  }

  // ---- what a form holds

  const KEPT_OUT = new Set(["hidden", "submit", "button", "image", "reset", "file", "password"]);
  const controls = (form) => [...form.elements].filter((one) => one.name && one.type && !KEPT_OUT.has(one.type) && !one.matches("fieldset, output, [data-secret]"));
  const isOn = (one) => one.type === "radio" || one.type === "checkbox";
  function values(form) {
    return controls(form).map((one) => [one.name, isOn(one) ? one.value : "", isOn(one) ? one.checked : one.value]);
  }
  const names = (held) => held.map(([name, value]) => `${name}\n${value}`).join("\n");
  const same = (one, two) => JSON.stringify(one) === JSON.stringify(two);

  function fill(form, held) {
    const by = new Map(held.map(([name, value, what]) => [`${name}\n${value}`, what]));
    controls(form).forEach((one) => {
      const what = by.get(`${one.name}\n${isOn(one) ? one.value : ""}`);
      if (what === undefined) return;
      if (isOn(one)) one.checked = what;
      else if (!one.options || [...one.options].some((option) => option.value === what)) one.value = what;
    });
    form.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // A draft with other lines than the page is sent as if it were typed, only looked at: the page comes with its lines.
  function putBack(form, held) {
    controls(form).forEach((one) => { one.disabled = true; });
    held.forEach(([name, value, what]) => {
      if (value !== "" && what === false) return;
      const field = document.createElement("input");
      field.type = "hidden";
      field.name = name;
      field.value = what === true ? value : what;
      form.append(field);
    });
    const look = document.createElement("input");
    look.type = "hidden";
    look.name = "do";
    look.value = "show";
    form.append(look);
    form.submit();
  }

  // ---- one form

  function watch(form) {
    const key = keyOf(form), mark = () => (form.elements.once ? form.elements.once.value : "");
    const shown = values(form), draft = read(key);
    let timer = 0, touched = false;
    const save = () => {
      clearTimeout(timer);
      if (touched) write(key, { held: values(form), mark: mark(), at: Date.now() });
    };
    form.addEventListener("input", (event) => {
      if (!event.isTrusted) return;
      touched = true;
      clearTimeout(timer);
      timer = setTimeout(save, PAUSE_MS);
    });
    form.addEventListener("change", (event) => { if (event.isTrusted) { touched = true; save(); } });
    addEventListener("pagehide", save);
    document.addEventListener("visibilitychange", save);
    form.addEventListener("submit", (event) => {
      if (form.dataset.sent) {
        event.preventDefault();
        return;
      }
      touched = true;
      save();
      form.dataset.sent = "1";
      setTimeout(() => { delete form.dataset.sent; }, 5000);
    });
    addEventListener("pageshow", () => { delete form.dataset.sent; });

    if (!draft) return;
    if (same(draft.held, shown)) {
      if (!answered) drop(key);
      return;
    }
    // What was sent last has just come back as this page: that is the newer.
    if (answered && performance.getEntriesByType("navigation")[0]?.type === "navigate" && draft.mark !== mark()) {
      touched = true;
      save();
      return;
    }
    const fits = names(draft.held) === names(shown);
    if (!fits && form.method === "get") return;
    if (fits) fill(form, draft.held);
    touched = fits;
    if (!line) return;
    line.hidden = false;
    line.querySelector("p").textContent = fits ? words.dataset.back : words.dataset.other;
    const back = line.querySelector("[data-put-back]");
    back.hidden = fits || !form.matches(".write");
    back.addEventListener("click", () => putBack(form, draft.held));
    line.querySelector("[data-discard]").addEventListener("click", () => {
      drop(key);
      touched = false;
      fill(form, shown);
      line.hidden = true;
    });
  }

  // ---- the day lasts while the page is used

  const USED_MS = 60000;
  let used = -USED_MS;
  function use() {
    const token = document.querySelector("[name=token]");
    if (!token || !root.classList.contains("day")) return;
    used = performance.now();
    fetch("/day/used", { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams({ token: token.value }) }).catch(() => {});
  }
  document.addEventListener("input", (event) => {
    if (event.isTrusted && performance.now() - used > USED_MS) use();
  });
  const longer = document.querySelector(".day-left button");
  if (longer) {
    longer.hidden = false;
    longer.addEventListener("click", use);
  }

  // ---- kept, and dropped

  const done = new Set((root.dataset.draftsDone || "").split(" ").filter(Boolean));
  all().forEach((key) => { if (done.has(read(key)?.mark)) drop(key); });
  main.querySelectorAll("form.write, form.settings, form[data-draft]").forEach(watch);
})();
