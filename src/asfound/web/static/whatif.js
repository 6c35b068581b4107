/* What if: moving a slider asks at once with few draws, letting go asks with all; the question goes into the address.
   Without this file the form has its button. */
"use strict";
(() => {
  const form = document.querySelector("form[data-ask]");
  if (!form) return;
  let newest = 0;
  let busy = false;
  let next = null;
  let width = null;                /* of the drawings that an answer brought; null: the page came with all */

  const seen = () => [...document.querySelectorAll("#cycle .pic3 > div")].findIndex((one) => one.offsetParent !== null);
  const question = () => {
    const pairs = [...new FormData(form)].filter(([, value]) => typeof value === "string" && value.trim() !== "");
    return new URLSearchParams(pairs);
  };
  const place = (html) => {
    const fresh = new DOMParser().parseFromString(html, "text/html");
    for (const now of fresh.querySelectorAll("[data-part]")) {
      const old = document.querySelector(`[data-part="${CSS.escape(now.dataset.part)}"]`);
      if (!old || old.outerHTML === now.outerHTML || old.contains(document.activeElement)) continue;
      old.replaceWith(now);
      if (!("invalid" in now.dataset)) continue;
      const field = document.getElementById(`f-${now.dataset.part.slice(2)}`);
      if (!field) continue;
      if (now.dataset.invalid) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
      const slider = document.getElementById(`s-${now.dataset.part.slice(2)}`);
      if (slider && slider !== document.activeElement && now.dataset.at) slider.value = now.dataset.at;
    }
  };
  const ask = async (few) => {
    if (busy) { next = few; return; }
    busy = true;
    const mine = ++newest;
    const asked = question();
    const shown = `${location.pathname}?${asked}`;
    if (few) asked.set("draws", "few");
    width = seen();                /* of three widths of a drawing only the one that is seen is made */
    asked.set("only", String(width));
    try {
      const answer = await fetch(`${form.getAttribute("action")}?${asked}`, {
        credentials: "same-origin", headers: { "X-Asfound-Part": "1" },
      });
      if (answer.ok && mine === newest) {
        place(await answer.text());
        if (!few) history.replaceState(null, "", shown);
      }
    } catch { /* the server is away: the form keeps what was typed, and its button works again with it */ }
    busy = false;
    if (next !== null) { const again = next; next = null; ask(again); }
  };
  form.addEventListener("input", (event) => {
    const field = event.target.dataset.for && document.getElementById(event.target.dataset.for);
    if (!field) return;
    field.value = event.target.value;
    ask(true);
  });
  window.addEventListener("resize", () => { if (width !== null && width !== seen()) ask(false); });
  form.addEventListener("change", () => { next = null; ask(false); });
  form.addEventListener("submit", (event) => { event.preventDefault(); next = null; ask(false); });
})();
