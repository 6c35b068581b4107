/* Every page works without this file. With it a field is sent when it is left, the returned page's parts are put in
   place (they are the same HTML as the full page), and what cannot be sent waits in this browser and says so. */
"use strict";
(() => {
  const root = document.documentElement;
  const BOX = "asfound-outbox";
  const RETRY = 4000;
  root.classList.add("js");

  /* ---- what waits to be sent: a list that outlives the page ---- */
  const waiting = () => { try { return JSON.parse(localStorage.getItem(BOX) || "[]"); } catch { return []; } };
  const store = (box) => {
    try { localStorage.setItem(BOX, JSON.stringify(box)); return true; } catch { return box.length === 0; }
  };
  let sending = false;
  let timer = 0;

  const say = (kind, text) => {
    const note = document.getElementById("waits");
    if (!note) return;
    note.hidden = kind === "";
    note.className = `waits ${kind}`;
    note.querySelector("span").textContent = text;
  };
  const sayWaiting = (because) => {
    const n = waiting().length;
    if (n === 0) say("", "");
    else say("near", `Kept in this browser, ${n} ${n === 1 ? "entry waits" : "entries wait"}: ${because}. Sent by itself as soon as it can be.`);
  };

  /* ---- putting the returned parts in place; a part with data-again holds the button that was pressed, and the focus
     goes to that button in the new part, or to its head. In a form with data-once the second click of a double click
     answers nothing: what stands under the hand is a new question ---- */
  let placedAt = 0, answeredOnce = false;
  const TWICE = 450;
  const place = (html) => {
    const fresh = new DOMParser().parseFromString(html, "text/html");
    const same = fresh.body.dataset.page === document.body.dataset.page;
    const active = document.activeElement;
    for (const old of document.querySelectorAll("[data-part]")) {
      if (!same && !("shared" in old.dataset)) continue;
      const now = fresh.querySelector(`[data-part="${CSS.escape(old.dataset.part)}"]`);
      if (!now || now.outerHTML === old.outerHTML) continue;
      const inside = old.contains(active) && active !== document.body;
      if (inside && (!("again" in old.dataset) || active.matches("input[type=text],input[type=search],textarea"))) continue;
      const open = [...old.querySelectorAll("details[open][id]")].map((one) => one.id);
      old.replaceWith(now);
      for (const id of open) document.getElementById(id)?.setAttribute("open", "");
      if (inside) ((active.id && document.getElementById(active.id)) || now.querySelector("[data-focus]"))?.focus({ preventScroll: true });
      if ("again" in old.dataset) placedAt = Date.now();
    }
    if (!same) return;
    for (const field of document.querySelectorAll("form[data-live] [id]:is(input,select,textarea)")) {
      const now = fresh.getElementById(field.id);
      if (!now) continue;
      for (const name of ["aria-invalid", "aria-describedby"]) {
        const value = now.getAttribute(name);
        if (value === null) field.removeAttribute(name); else field.setAttribute(name, value);
      }
    }
  };

  /* ---- sending, one after the other, in the order in which it was written ---- */
  const flush = async () => {
    if (sending) return;
    sending = true;
    clearTimeout(timer);
    let box = waiting();
    while (box.length) {
      const first = box[0];
      let answer;
      try {
        answer = await fetch(first.url, {
          method: "POST", body: first.body, credentials: "same-origin", redirect: "follow",
          headers: { "Content-Type": "application/x-www-form-urlencoded;charset=UTF-8", "X-Asfound-Part": "1", "X-Asfound-Typed-At": first.at },
        });
      } catch {
        answer = null;
      }
      if (!answer || answer.status >= 500) {
        sayWaiting(answer ? "the program could not keep it" : "the program does not answer");
        timer = setTimeout(flush, RETRY);
        sending = false;
        return;
      }
      store(waiting().slice(1));
      box = waiting();
      if (answer.ok || answer.status === 422) place(await answer.text());
      else say("over", `Not kept: ${first.says}. The program refused it (${answer.status}); what you typed stays on this page.`);
      if (answer.ok && first.mark) mark(first.mark);
    }
    if (document.getElementById("waits")?.classList.contains("near")) sayWaiting("");
    sending = false;
  };
  const send = (url, pairs, says, at) => {
    const body = new URLSearchParams(pairs).toString();
    const box = waiting();
    box.push({ url, body, says, at: new Date().toISOString(), mark: at });
    if (!store(box)) say("over", "Not kept: this browser has no room left. What you typed stays on this page.");
    return flush();
  };
  const mark = (id) => document.getElementById(id)?.closest("[data-field]")?.classList.add("is-kept");

  /* ---- a live form: the whole of it, or the one field that was left ---- */
  const pairsOf = (form, field, submitter) => {
    const inside = (name) => [...form.elements].some((one) => one.name === name && (one.type === "hidden" || field.contains(one)));
    return [...new FormData(form, submitter)].filter(([name, value]) => typeof value === "string" && (!field || inside(name)));
  };
  document.addEventListener("change", (event) => {
    const target = event.target;
    const form = target.form;
    if (form?.dataset.live === "press") return;     /* only its buttons send */
    if (form?.matches("[data-live]")) {
      const field = form.dataset.live === "whole" ? null : target.closest("[data-field]");
      send(form.action, pairsOf(form, field), target.name, target.id);
    } else if ((target.type === "file" && target.files.length && form?.hasAttribute("data-photo")) || form?.hasAttribute("data-pick")) {
      form.requestSubmit();
    }
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("form[data-live]")) return;
    event.preventDefault();
    const once = "once" in form.dataset;
    if (once && answeredOnce && Date.now() - placedAt < TWICE) return;
    answeredOnce = once;
    const by = event.submitter;
    if (by?.dataset.put) {               /* a mending button: put its value into the field it belongs to */
      const field = document.getElementById(by.dataset.put);
      field.value = by.value;
      field.focus();
      send(form.action, pairsOf(form, field.closest("[data-field]")), field.name, field.id);
    } else {
      send(form.action, pairsOf(form, null, by), "", by?.id);
    }
  });

  /* ---- light: at once, and kept for the next page ---- */
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("form.light button");
    if (!button) return;
    event.preventDefault();
    root.dataset.light = button.value;
    document.cookie = `light=${button.value};path=/;max-age=31536000;samesite=strict`;
    for (const one of document.querySelectorAll("form.light button")) one.setAttribute("aria-pressed", String(one.value === button.value));
  });

  /* ---- keys: digits and Enter open a tag, f and l switch the column, / finds ---- */
  let digits = "";
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input,textarea,select")) return;
    if (/^[0-9]$/.test(event.key)) { digits = (digits + event.key).slice(-2); return; }
    if (event.key === "Enter" && digits) {
      const tag = [...document.querySelectorAll("a.tag")].find((one) => one.querySelector(".tagno")?.textContent === digits);
      digits = "";
      if (tag) { event.preventDefault(); location.assign(tag.getAttribute("href")); }
      return;
    }
    digits = "";
    const column = { f: "as_found", l: "as_left" }[event.key];
    if (column) document.querySelector(`form.state button[value="${column}"]`)?.click();
    else if (event.key === "/") {
      const find = [...document.querySelectorAll("input[name=find]")].find((one) => one.offsetParent);
      if (find) { event.preventDefault(); find.focus(); } else { event.preventDefault(); location.assign("/find"); }
    }
  });

  window.addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => { if (!document.hidden && waiting().length) flush(); });
  if (waiting().length) { sayWaiting("from before"); flush(); }
})();
