/* Every page works without this file. With it a field is sent when it is left, and the parts of the answer are put in
   place. */
"use strict";
(() => {
  const root = document.documentElement;
  root.classList.add("js");

  /* ---- parts in place; in one with data-again the focus goes to the button that was pressed, or to its head. With
     data-once the second click of a double click answers nothing: a new question stands there ---- */
  let placedAt = 0, answeredOnce = false;
  const TWICE = 450;
  const place = (fresh) => {
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

  const send = (url, pairs, says, field) => {
    const to = new URL(url);
    return outbox.add({ url: to.pathname + to.search, pairs, says, field });
  };
  const mark = (id) => document.getElementById(id)?.closest("[data-field]")?.classList.add("is-kept");
  Object.assign(outbox.hooks, { place, mark });

  /* ---- a live form: the whole of it, or the one field that was left ---- */
  const pairsOf = (form, field, submitter) => {
    const inside = (name) => [...form.elements].some((one) => one.name === name && (one.type === "hidden" || field.contains(one)));
    return [...new FormData(form, submitter)].filter(([name, value]) => typeof value === "string" && (!field || inside(name)));
  };
  const left = (target) => {
    const form = target.form;
    if (form?.dataset.live === "press") return;     /* only its buttons send */
    if (form?.matches("[data-live]")) {
      const field = form.dataset.live === "whole" ? null : target.closest("[data-field]");
      /* the other column may change elsewhere while this waits */
      const mine = ([name]) => !target.name.startsWith("v:") || !name.startsWith("v:") || name === target.name;
      send(form.action, pairsOf(form, field).filter(mine), target.labels?.[0]?.textContent.trim() || target.name, target.id);
    } else if ((target.type === "file" && target.files.length && form?.hasAttribute("data-photo")) || form?.hasAttribute("data-pick")) {
      form.requestSubmit();
    }
  };
  document.addEventListener("change", (event) => left(event.target));
  removeEventListener("change", early.note);
  early.forEach(left);
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("form[data-live]")) return;
    event.preventDefault();
    const once = "once" in form.dataset;
    if (once && answeredOnce && Date.now() - placedAt < TWICE) return;
    answeredOnce = once;
    const by = event.submitter;
    if (by?.dataset.put) {               /* a mending button */
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
})();
