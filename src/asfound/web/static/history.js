/* Moves the picture of a log at once; the program's answer takes its place. The links beside it do the same without. */
"use strict";
(() => {
  const job = document.querySelector("[data-job]"), box = document.getElementById("tl");
  if (job) setInterval(async () => {
    const now = await (await fetch(job.dataset.job)).json(), read = job.querySelector("[data-read]");
    if (now.stage !== (read ? "reading" : "working_out")) location.reload();
    if (!read) return;
    read.textContent = now.read.toLocaleString("en").replaceAll(",", job.dataset.gap);
    job.querySelector("[data-share]").textContent = Math.round(100 * now.share);
  }, 1500);
  if (!box) return;
  const REST = 110, SHORTEST = 60;
  let view = null, timer = 0, asking = null, touched = new Map(), begun = null;

  const read = () => { view = { a: +box.dataset.start, b: +box.dataset.end }; };
  const drawing = () => [...box.querySelectorAll("svg.tl-svg")].filter((one) => one.getClientRects().length);
  const frame = () => {
    const places = [...box.querySelector(".pic3").children], i = places.findIndex((one) => getComputedStyle(one).display !== "none");
    const r = places[i].getBoundingClientRect(), wide = [900, 680, 350][i], k = r.width / wide, x0 = +box.dataset.left, x1 = wide - 12;
    return { left: r.left + x0 * k, width: (x1 - x0) * k, x0, x1, wide };
  };

  const show = () => {
    const f = frame(), was = +box.dataset.end - +box.dataset.start, now = view.b - view.a, s = was / now;
    const t = (f.x1 - f.x0) * (+box.dataset.start - view.a) / now + f.x0 * (1 - s);
    box.classList.add("is-moving");
    for (const svg of drawing()) for (const g of svg.querySelectorAll(".mv")) g.setAttribute("transform", `matrix(${s} 0 0 1 ${t} 0)`);
  };
  const ask = async () => {
    asking?.abort();
    const mine = asking = new AbortController(), asked = view;
    const rows = box.dataset.rows ? `&${box.dataset.rows}` : "";
    try {
      const answer = await fetch(`${box.dataset.partOf}?from=${Math.round(view.a)}&to=${Math.round(view.b)}&only=${frame().wide}${rows}`, { signal: mine.signal });
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("tl");
      if (!fresh || mine !== asking) return;
      const focus = document.activeElement === box;
      box.replaceChildren(...fresh.childNodes);
      for (const { name, value } of fresh.attributes) if (name !== "class") box.setAttribute(name, value);
      box.classList.remove("is-moving");
      if (focus) box.focus({ preventScroll: true });
      history.replaceState(null, "", box.dataset.here);
      if (begun || view !== asked) show(); else read();   /* the hand went on while the answer came */
      links();
    } catch (error) { if (error.name !== "AbortError") box.classList.remove("is-moving"); }
  };
  const soon = (wait = REST) => { clearTimeout(timer); timer = setTimeout(ask, wait); };
  const move = (share) => { const by = (view.b - view.a) * share; view = { a: view.a + by, b: view.b + by }; show(); };
  const zoom = (factor, at = 0.5) => {
    const long = Math.min(Math.max((view.b - view.a) * factor, SHORTEST), 4e9), mid = view.a + (view.b - view.a) * at;
    view = { a: mid - long * at, b: mid + long * (1 - at) };
    show();
  };
  const MOVES = { earlier: () => move(-0.5), later: () => move(0.5), closer: () => zoom(0.5), wider: () => zoom(2) };
  const links = () => {
    document.querySelector(".tlnav [aria-current]")?.removeAttribute("aria-current");
    const day = (s) => new Date(s * 1000).toISOString().slice(0, 10);
    for (const [name, value] of [["from", view.a], ["to", view.b]]) for (const field of document.querySelectorAll(`[name=${name}]`)) field.value = field.getAttribute("type") === "date" ? day(value) : Math.round(value);
  };

  /* hand: one finger or the mouse moves, two come closer */
  const hold = () => { const f = frame(); begun = { view, f, at: [...touched.values()].map((p) => (p - f.left) / f.width) }; };
  box.addEventListener("pointerdown", (event) => {
    if (event.button || !event.target.closest("svg.tl-svg")) return;
    touched.set(event.pointerId, event.clientX);
    try { box.setPointerCapture(event.pointerId); } catch {}
    box.classList.add("is-held");
    clearTimeout(timer);
    hold();
  });
  box.addEventListener("pointermove", (event) => {
    if (!begun || !touched.has(event.pointerId)) return;
    touched.set(event.pointerId, event.clientX);
    const { view: was, f, at } = begun, long = was.b - was.a, now = [...touched.values()].map((x) => (x - f.left) / f.width);
    if (now.length > 1) {
      const apart = Math.abs(now[1] - now[0]), wide = long * Math.abs(at[1] - at[0]) / Math.max(apart, 0.02);
      const mid = was.a + long * (at[0] + at[1]) / 2, a = mid - wide * (now[0] + now[1]) / 2;
      if (wide >= SHORTEST && wide < 4e9) view = { a, b: a + wide };
    } else {
      const by = long * (at[0] - now[0]);
      view = { a: was.a + by, b: was.b + by };
    }
    show();
    soon(220);
  });
  const let_go = (event) => {
    if (!touched.delete(event.pointerId)) return;
    if (touched.size) { hold(); return; }
    box.classList.remove("is-held");
    const moved = begun && (begun.view.a !== view.a || begun.view.b !== view.b);
    begun = null;
    if (moved || view.a !== +box.dataset.start) soon(0);
  };
  box.addEventListener("pointerup", let_go);
  box.addEventListener("pointercancel", let_go);
  box.addEventListener("wheel", (event) => {
    if (!event.target.closest("svg.tl-svg")) return;
    event.preventDefault();
    const f = frame(), sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY);
    if (sideways) move(event.deltaX / f.width);
    else zoom(Math.exp(Math.max(-1, Math.min(1, event.deltaY / 300))), Math.min(Math.max((event.clientX - f.left) / f.width, 0), 1));
    soon();
  }, { passive: false });
  box.addEventListener("keydown", (event) => {
    if (event.target !== box || event.ctrlKey || event.metaKey || event.altKey) return;
    const act = { ArrowLeft: () => move(-0.2), ArrowRight: () => move(0.2), "+": () => zoom(0.6), "=": () => zoom(0.6), "-": () => zoom(1.6) }[event.key];
    if (act) { event.preventDefault(); act(); soon(); }
  });
  document.addEventListener("click", (event) => {
    const act = MOVES[event.target.closest?.("a[data-tl]")?.dataset.tl];
    if (act && !event.ctrlKey && !event.metaKey && !event.shiftKey) { event.preventDefault(); act(); soon(0); }
  });
  addEventListener("resize", () => { if (!drawing().length) soon(); });
  document.getElementById("chf")?.addEventListener("input", (event) => {
    const words = event.target.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const one of document.querySelectorAll(".chone")) one.hidden = !words.every((w) => one.textContent.toLowerCase().includes(w));
    for (const one of document.querySelectorAll(".chgroups fieldset")) one.hidden = !one.querySelector(".chone:not([hidden])");
  });
  read();
})();
