/* On a tablet or phone beside the laptop, and only there: every form of a visit goes through the box of outbox.js, the
   pages of the visit are kept by away.js, and a page lists what waits. Without this file forms are sent as they are. */
"use strict";
(() => {
  /* ---- on a tablet: forms of a visit go through the box too, the column is switched here, pages are kept ---- */
  const STEPS = "notes|events|photos(/sort|/[0-9a-f]{64}/label/keep)?|resolutions|undo|judged|cylinders/look|findings/\\w+(/done)?|reading/.+|whatif/(keep|undo)|due/(?!upgrade$)\\w+|trouble/(close|undo)|report/(addenda|hours(/back)?)|gas/undo|exhaust/test/back|\\w+/(setting|add|way)";
  const BOXED = new RegExp(`^/engines/[^/]+/[^/]+/(${STEPS})$`);
  document.addEventListener("submit", (event) => {
    const form = event.target, by = event.submitter;
    if (event.defaultPrevented || form.method !== "post" || form.matches("[data-live]")) return;
    if (form.matches(".state") && by?.value) {
      event.preventDefault();
      document.cookie = `column=${by.value};path=/;max-age=31536000;samesite=strict;secure`;
      location.reload();
      return;
    }
    const url = new URL(by?.getAttribute("formaction") ? by.formAction : form.action);
    if (!BOXED.test(url.pathname)) return;
    event.preventDefault();
    const pairs = [...new FormData(form, by)].filter(([, value]) => typeof value === "string" || value.size);
    const one = { id: outbox.identifier(), url: url.pathname + url.search, pairs, whole: true, says: form.getAttribute("aria-label") || by?.textContent.trim() || "" };
    outbox.lead(one.id);
    form.closest("[popover]")?.hidePopover();
    outbox.add(one).then(() => { if (outbox.leads() !== one.id) form.reset(); });
  });
  for (const one of document.querySelectorAll("form.state button")) one.setAttribute("aria-pressed", String(one.value === outbox.column()));
  if (isSecureContext && navigator.serviceWorker) {
    navigator.serviceWorker.register("/away.js").then(() => navigator.serviceWorker.ready).then((ready) => {
      const of = (chosen, name) => [...document.querySelectorAll(chosen)].map((one) => one[name]).filter((one) => typeof one === "string");   /* a link in a drawing has none */
      const here = location.pathname.split("/").slice(0, 4).join("/");
      ready.active.postMessage("forget" in document.body.dataset ? { forget: true } : {
        shell: of("link[rel=stylesheet],link[rel=icon],link[rel=apple-touch-icon]", "href").concat(of("script[src]", "src")),
        pages: [location.href, ...of(".spine a,.dock a,.record a,.where a,a[href*='/fitted?place=']", "href").filter((one) => new URL(one).pathname.startsWith(here))],
      });
    }, () => {
      const net = document.querySelector(".kept .net");
      if (net) net.textContent = " pages are not kept: trust the laptop first";
    });
  }

  const list = (box) => {
    const place = document.getElementById("waiting-list");
    if (!place) return;
    const make = (name, text, more = {}) => Object.assign(document.createElement(name), { textContent: text, ...more });
    const rows = box.map((one) => {
      const row = make("li", ""), said = make("div", "");
      if (one.refused) said.className = "bad";
      const typed = one.pairs.filter(([name, value]) => value && !/^(u:|back$|since$|step$)/.test(name)).map(([, value]) => typeof value === "string" ? value : value.name || "photo").join(", ");
      said.append(make("p", typed.slice(0, 200), { className: "mid" }), make("p", `${outbox.clock(one.at)}, ${one.says || decodeURIComponent(one.page)}${one.refused ? `. ${one.refused}` : ""}`, { className: "small" }));
      row.append(said);
      if (one.refused) {
        const again = make("button", "Send it again", { className: "btn", type: "button" }), gone = make("button", "Forget it", { className: "btn", type: "button" });
        again.onclick = async () => { delete one.refused; await outbox.put(one); outbox.flush(); };
        gone.onclick = async () => { await outbox.drop(one.seq); outbox.tell(); };
        row.append(make("a", "To its page", { className: "btn", href: one.page + (one.field ? `#${one.field}` : "") }), again, gone);
      }
      return row;
    });
    place.replaceChildren(rows.length ? Object.assign(document.createElement("ol"), { className: "queue" }) : make("p", "Nothing waits here.", { className: "none" }));
    if (rows.length) place.firstChild.append(...rows);
    const now = document.getElementById("send-now");
    if (now) { now.hidden = !rows.length; now.onclick = outbox.flush; }
  };
  outbox.hooks.told = list;
  outbox.tell();

  const takeCode = () => {        /* the code came with the picture, behind the #: no server was told it */
    const code = document.querySelector("input#code");
    if (!code || location.hash.length < 9) return;
    code.value = location.hash.slice(1);
    history.replaceState(null, "", location.pathname);
  };
  takeCode();
  addEventListener("hashchange", takeCode);
})();
