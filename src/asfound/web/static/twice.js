/* The same button pressed twice, and the same page open twice: a second tab, the way back. */
"use strict";
(() => {
  const TWICE = 5000, sent = new WeakMap();
  addEventListener("submit", (event) => {
    const form = event.target, by = event.submitter, was = sent.get(form), now = Date.now();
    if (form.method !== "post" || form.matches("[data-live]")) return;
    if (was && was.by === by && now - was.at < TWICE) { event.preventDefault(); event.stopImmediatePropagation(); }
    else sent.set(form, { by, at: now });
  }, true);

  /* what stands here is as old as this page: when it comes to the front, what another one wrote is put in */
  const all = (chosen) => [...document.querySelectorAll(chosen)];
  const halfTyped = () => all("form:not([data-live]) :is(input[type=text],textarea)").some((one) => one.value !== one.defaultValue);
  const waits = () => document.querySelector(".waitsfield");
  const front = async () => {
    if (document.hidden || !document.querySelector("form.state") || halfTyped() || document.querySelector("[aria-invalid=true]")) return;
    if (waits()) { setTimeout(front, 2000); return; }
    if (document.querySelector("form.state [aria-pressed=true]")?.value !== outbox.column()) { location.reload(); return; }
    try {
      const answer = await fetch(location.href, { headers: { accept: "text/html" } });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!answer.ok || page.body.dataset.page !== document.body.dataset.page) return;
      outbox.hooks.place(page);
      for (const field of all("form[data-live] :is(input[type=text],select)[id]")) {
        const now = page.getElementById(field.id);
        if (now && field !== document.activeElement && !field.matches(".waitsfield")) field.value = now.value;
      }
      if (waits()) setTimeout(front, 2000);
    } catch {}  /* out of reach: it stays as it was */
  };
  document.addEventListener("visibilitychange", front);
  addEventListener("pageshow", (event) => { if (event.persisted) front(); });
})();
