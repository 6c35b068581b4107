/* The service worker of a tablet: keeps the program's style and script, and the pages of the visit that is open, so
   that they open when the laptop is out of reach. It keeps pages, never what was typed: that is the box of outbox.js. */
"use strict";
const SHELL = "asfound-shell", PAGES = "asfound-pages";
const PATIENCE = 4000, FRESH = 300000, MOST = 150;

self.addEventListener("install", (event) => event.waitUntil(self.skipWaiting()));
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const keepPage = async (key, answer) => {
  const html = (answer.headers.get("content-type") || "").startsWith("text/html");
  if (!answer.ok || answer.redirected || !html) return;
  const pages = await caches.open(PAGES);
  await pages.put(key, answer.clone());
  const known = await pages.keys();
  for (const old of known.slice(0, Math.max(0, known.length - MOST))) await pages.delete(old);
};
const withoutHash = (url) => url.split("#")[0];

/* a page: from the laptop if it answers in time, else as it was last seen; the newest is kept each time */
const page = async (event) => {
  const key = withoutHash(event.request.url);
  const pages = await caches.open(PAGES);
  const old = await pages.match(key) || await pages.match(key, { ignoreSearch: true });
  const fresh = fetch(event.request);
  event.waitUntil(fresh.then((answer) => keepPage(key, answer.clone())).catch(() => {}));
  if (!old) return fresh.catch(async () => await pages.match(new URL("/waiting", location.origin).href) || Response.error());
  const late = new Promise((done) => setTimeout(done, PATIENCE, old));
  return Promise.race([fresh, late]).catch(() => old);
};
const part = async (request) => {
  const shell = await caches.open(SHELL), named = request.url.includes("?v=");
  const old = await shell.match(request.url);
  if (old && named) return old;
  try {
    const answer = await fetch(request);
    if (answer.ok) await shell.put(request.url, answer.clone());
    return answer;
  } catch (fault) {
    if (old) return old;
    throw fault;
  }
};
const unsent = () => new Response(
  "<!doctype html><html lang=en><meta charset=utf-8><meta name=viewport content='width=device-width'><title>Not kept</title>"
  + "<h1>Not kept: the laptop does not answer</h1><p>This step needs the laptop. Go back: what you typed is still on the page.</p></html>",
  { status: 503, headers: { "content-type": "text/html;charset=utf-8" } });

self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.mode === "navigate" && request.method === "POST") event.respondWith(fetch(request).catch(unsent));
  else if (request.method !== "GET") return;
  else if (url.pathname.startsWith("/static/")) event.respondWith(part(request));
  else if (request.mode === "navigate") event.respondWith(page(event));
});

/* a page says what belongs to it; it is fetched once, one after the other, and not again for a while */
let filling = Promise.resolve();
const fill = async ({ shell = [], pages = [] }) => {
  const parts = await caches.open(SHELL), kept = await caches.open(PAGES);
  for (const url of shell) {
    if (await parts.match(url)) continue;
    const answer = await fetch(url);
    if (answer.ok) await parts.put(url, answer);
    if (url.includes("/css/")) for (const [, name] of (await (await parts.match(url)).text()).matchAll(/url\(\.\.\/(fonts\/[\w.-]+)\)/g)) {
      const font = new URL(`/static/${name}`, location.origin).href;
      if (!await parts.match(font)) await parts.add(font);
    }
  }
  for (const url of new Set([new URL("/waiting", location.origin).href, ...pages.map(withoutHash), new URL("/", location.origin).href])) {
    const old = await kept.match(url);
    if (old && Date.now() - Date.parse(old.headers.get("date")) < FRESH) continue;
    await keepPage(url, await fetch(url, { headers: { accept: "text/html" } }));
  }
};
self.addEventListener("message", (event) => {
  if (event.data.forget) event.waitUntil(caches.delete(PAGES));
  else event.waitUntil(filling = filling.then(() => fill(event.data)).catch(() => {}));
});
