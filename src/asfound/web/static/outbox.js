/* What is typed is in this box until it was answered; its identifier keeps it single. */
"use strict";
globalThis.outbox = (() => {
  const root = document.documentElement, body = document.body, shared = root.dataset.door === "shared";
  const RETRY = 4000, LONGEST = 20000;
  const hooks = { place: () => {}, mark: () => {}, told: () => {} };

  /* ---- the box, in order ---- */
  let opened;
  const base = () => opened ??= new Promise((done, fail) => {
    const asked = indexedDB.open("asfound", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("box", { keyPath: "seq", autoIncrement: true });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => { opened = undefined; fail(asked.error); };
  });
  const act = async (mode, work) => {
    const deal = (await base()).transaction("box", mode, { durability: "strict" });
    return new Promise((done, fail) => {
      const asked = work(deal.objectStore("box"));
      deal.commit?.();
      deal.oncomplete = () => done(asked.result);
      deal.onabort = deal.onerror = () => fail(deal.error);
    });
  };
  const all = () => act("readonly", (box) => box.getAll()).then((found) => found.filter((one) => one.home === body.dataset.home), () => []);
  const put = (one) => act("readwrite", (box) => box.put(one));
  const drop = (seq) => act("readwrite", (box) => box.delete(seq));

  /* ---- RFC 9562, version 7 ---- */
  const identifier = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    for (let n = 5, left = Date.now(); n >= 0; n--, left = Math.floor(left / 256)) bytes[n] = left % 256;
    bytes[6] = 0x70 | bytes[6] & 15;
    bytes[8] = 0x80 | bytes[8] & 63;
    const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
    return hex.replace(/(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  };
  const column = () => /(?:^|; )column=(as_\w+)/.exec(document.cookie)?.[1] ?? "as_found";
  const clock = (at) => new Date(at).toTimeString().slice(0, 5);

  /* ---- the strip: kept, waiting, not kept ---- */
  let why = "", unkept = "";
  const tell = async () => {
    const box = await all(), refused = box.filter((one) => one.refused), n = box.length - refused.length;
    const state = unkept || refused.length ? "not" : n ? "waiting" : "kept";
    const strip = document.querySelector(".kept"), note = document.getElementById("waits");
    if (strip && (state !== "kept" || strip.dataset.kept !== "kept")) {
      strip.dataset.kept = state;
      const last = box.at(-1)?.at ?? Date.now();
      const strong = strip.querySelector(".strong"), long = Object.assign(document.createElement("span"), { className: "long", textContent: `Kept here ${clock(last)}, ` });
      strong.replaceChildren(state === "not" ? "Not kept" : n ? `${n} wait${n === 1 ? "s" : ""}` : `Kept ${clock(Date.now())}`);
      if (state === "waiting") strong.prepend(long);
      strip.querySelector(".net").textContent = n ? ` no answer since ${clock(box[0].at)}` : "";
    }
    if (note) {
      const said = unkept || (refused.length ? `Not kept: ${refused.at(-1).says || "an entry"}. ${refused.at(-1).refused}`
        : n ? `Kept on this device, ${n} ${n === 1 ? "entry waits" : "entries wait"}${why ? `: ${why}` : ""}. Sent by itself as soon as it can be.` : "");
      note.hidden = !said;
      note.className = `waits ${state === "not" ? "over" : ""}`;
      const text = note.querySelector("span");
      text.textContent = said + " ";
      if (said && shared) text.append(Object.assign(document.createElement("a"), { href: "/waiting", textContent: "What waits here" }));
    }
    for (const field of document.querySelectorAll(".waitsfield")) field.classList.remove("waitsfield");
    for (const one of box) document.getElementById(one.field)?.classList.add("waitsfield");
    hooks.told(box);
  };

  /* ---- sending, by one page at a time ---- */
  let timer = 0, leads = null, leaving = 0;
  addEventListener("beforeunload", () => { leaving = Date.now(); });
  const bodyOf = (one) => {
    if (!one.files) return new URLSearchParams(one.pairs);
    const form = new FormData();
    for (const [name, value] of one.pairs) value instanceof Blob ? form.append(name, value, value.name) : form.append(name, value);
    return form;
  };
  const sendOne = async (one) => {
    let answer, said = "";
    try {
      answer = await fetch(one.url, {
        method: "POST", body: bodyOf(one), credentials: "same-origin", signal: AbortSignal.timeout(LONGEST * (one.files ? 6 : 1)),
        headers: {
          "X-Asfound-Part": one.whole ? "0" : "1", "X-Asfound-Entry": one.id, "X-Asfound-Column": one.column,
          "X-Asfound-Page": one.page, "X-Asfound-Waited": String(Math.max(0, Date.now() - one.at)),
        },
      });
      said = await answer.text();      /* an answer that breaks off is none */
    } catch {
      why = shared ? "the laptop does not answer" : "the program does not answer";
      return false;
    }
    if (Date.now() - leaving < RETRY) return false;  /* the next page asks again */
    if (answer.status >= 500 || answer.status === 408 || answer.status === 429) { why = "the program could not keep it"; return false; }
    if (answer.status === 401) { why = "this device is not let in any more"; return false; }
    why = "";
    const page = new DOMParser().parseFromString(said, "text/html"), mine = leads === one.id;
    const here = mine || (page.body.dataset.page && page.body.dataset.page === body.dataset.page);
    try {
      if (answer.ok || (answer.status === 422 && here)) {
        for (const old of answer.ok ? await all() : []) if (old.refused && old.url === one.url && old.field && old.field === one.field) await drop(old.seq);
        if (one.seq) await drop(one.seq);
      } else {
        const because = page.querySelector(".ferr, .err, .notice.over, .notice.near")?.textContent.trim().replace(/\s+/g, " ");
        await put({ ...one, refused: because || `The laptop refused it (${answer.status}).` });
      }
    } catch { why = "the box on this device cannot be written"; return false; }
    if (mine) {
      leads = null;
      if (answer.ok) { go(answer.url); return true; }
      document.getElementById("main").replaceWith(page.getElementById("main"));
      scrollTo(0, 0);
    } else if (!one.whole && (answer.ok || answer.status === 422)) {
      hooks.place(page);
      if (answer.ok && one.field) hooks.mark(one.field);
    }
    return true;
  };
  const go = (url) => {
    const to = new URL(url);
    if (to.pathname + to.search === location.pathname + location.search) {
      if (to.hash) history.replaceState(null, "", to.hash);
      location.reload();
    } else location.assign(url);
  };
  const alone = (work) => navigator.locks ? navigator.locks.request("asfound-box", work) : work();
  let running = false, again = false;
  const flush = async () => {
    if (running) { again = true; return; }
    running = true;
    clearTimeout(timer);
    do {
      again = false;
      await alone(async () => {
        for (let one; (one = (await all()).find((each) => !each.refused));)
          if (!await sendOne(one)) { timer = setTimeout(flush, RETRY); leads = null; again = false; break; }
      });
    } while (again);
    running = false;
    await tell();
  };

  let last = Promise.resolve();
  const add = (entry) => {
    const one = { id: identifier(), home: body.dataset.home, page: location.pathname + location.search, column: column(), at: Date.now(), ...entry };
    one.files = one.pairs.some(([, value]) => typeof value !== "string");
    last = last.then(async () => {
      try { await put(one); unkept = ""; if (navigator.onLine === false) await tell(); }
      catch {
        unkept = "Not kept: this device has no room left, or may keep nothing. What you typed stays on this page only.";
        await sendOne(one).then((sent) => { if (sent) unkept = ""; }, () => {});
        return tell();
      }
    });
    return last.then(flush);
  };

  /* ---- what waits ---- */
  const refill = async () => {
    for (const one of await all()) {
      if (one.whole) continue;
      for (const form of document.querySelectorAll("form[data-live]")) {
        if (new URL(form.action).pathname !== new URL(one.url, location.origin).pathname) continue;
        const given = new URLSearchParams(one.pairs.filter(([, value]) => typeof value === "string"));
        if (form.elements.slot && given.get("slot") !== form.elements.slot.value) continue;
        for (const field of form.elements) {
          if (!field.name || field.type === "hidden" || globalThis.early?.has(field) || (!given.has(field.name) && form.dataset.live !== "whole")) continue;
          if (field.type === "radio" || field.type === "checkbox") field.checked = given.getAll(field.name).includes(field.value);
          else if (given.has(field.name) && field.matches("input,select,textarea")) field.value = given.get(field.name);
        }
      }
    }
  };

  addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) flush();
    else if (document.activeElement?.form?.matches("[data-live]")) document.activeElement.blur();
  });
  refill().then(flush);
  return { add, flush, tell, put, drop, column, clock, identifier, lead: (id) => { leads = id; }, leads: () => leads, hooks };
})();
