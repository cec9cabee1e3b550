// The service worker: pages of the shop floor that were open once open again without a connection, as they were.
// It keeps pages for one person at a time, answers nothing that is sent (keep.js does that), and asks the shop's
// computer first whenever it can be reached.
"use strict";

const RELEASE = new URL(location.href).searchParams.get("release");
const FILES = `files-${RELEASE}`;
const PAGES = `pages-${RELEASE}`;
const FLOOR = /^\/($|(blanks|bench|glue-up)(\/|$))/; // the rack, blanks and their steps, the bench, glue-up
const OWN_FILES = /^\/(static|library|fonts)\//;
const PAPERS = /\.\w{2,4}$/; // PDFs, pictures, files to take along
const IN_A_PAGE = /(?:href|src|data-ticker)="(\/(?:static|library|fonts)\/[^"#?]+)/g;
const NOT_KEPT = /<p [^>]*data-not-kept>[\s\S]*?<\/p>/g; // sums of money
const AT = "x-kept-at";
const PERSON = "/kept-for"; // under this name the cache holds whose pages they are
const MOST = 250; // pages
const OLDEST = 14 * 24 * 3600_000; // ms
const FRESH = 30 * 60_000; // ms within which a page is not fetched ahead again
const SLOW = 8000; // ms after which a page that was kept is better than waiting
const BETWEEN = 400; // ms between pages that are fetched ahead, so that nobody at work waits for them

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(begin()));

async function begin() {
  for (const name of await caches.keys()) if (![FILES, PAGES].includes(name)) await caches.delete(name);
  await self.clients.claim();
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (OWN_FILES.test(url.pathname)) event.respondWith(file(request));
  else if (!onTheFloor(url)) return;
  else if (request.mode === "navigate") event.respondWith(page(event, url));
  else if (request.headers.get("accept") === "text/html") event.respondWith(broughtIn(event, url)); // see page.js
});

self.addEventListener("message", (event) => {
  const { files, pages, forget } = event.data;
  if (forget) event.waitUntil(caches.delete(PAGES));
  if (files) event.waitUntil(Promise.all(files.map(keepFile)));
  if (pages) event.waitUntil(fetchAhead(pages));
});

function onTheFloor(url) {
  return FLOOR.test(url.pathname) && !PAPERS.test(url.pathname);
}

async function file(request) {
  return (await caches.match(request.url, { cacheName: FILES })) ?? (await keepFile(request.url)) ?? fetch(request);
}

async function keepFile(address) {
  const files = await caches.open(FILES);
  const kept = await files.match(address);
  if (kept) return kept;
  try {
    const answer = await fetch(address);
    if (answer.ok) await files.put(address, answer.clone());
    return answer;
  } catch {
    return undefined;
  }
}

async function page(event, url) {
  const asked = fetch(event.request);
  asked.catch(() => {}); // it may fail after somebody was shown what was kept
  try {
    const answer = await Promise.race([asked, later()]);
    if (answer && ![502, 503, 504].includes(answer.status)) {
      if (isPage(answer)) event.waitUntil(keepPage(url, answer.clone()));
      return answer;
    }
    return (await asItWas(url)) ?? (await asked);
  } catch {
    return (await asItWas(url)) ?? (await notHere());
  }
}

async function broughtIn(event, url) {
  const answer = await fetch(event.request);
  if (isPage(answer)) event.waitUntil(keepPage(url, answer.clone()));
  return answer;
}

function later() {
  return new Promise((resolve) => { setTimeout(resolve, SLOW); });
}

function isPage(answer) {
  return answer.status === 200 && !answer.redirected && (answer.headers.get("content-type") ?? "").startsWith("text/html");
}

// Keeps a page with the time; those of another person are thrown away first, and the oldest beyond MOST.
async function keepPage(url, answer) {
  const text = (await answer.text()).replace(NOT_KEPT, "");
  const person = /<meta name="person" content="(\d+)">/.exec(text)?.[1];
  if (!person) return "";
  const before = await caches.match(PERSON, { cacheName: PAGES });
  if (!before || (await before.text()) !== person) {
    await caches.delete(PAGES);
    await (await caches.open(PAGES)).put(PERSON, new Response(person));
  }
  const pages = await caches.open(PAGES);
  const headers = new Headers(answer.headers);
  for (const name of ["content-encoding", "content-length", "set-cookie"]) headers.delete(name);
  headers.set(AT, String(Date.now()));
  const key = nameOf(url);
  await pages.delete(key);
  await pages.put(key, new Response(text, { headers }));
  const held = await kept(pages);
  for (const one of held.slice(0, Math.max(0, held.length - MOST))) await pages.delete(one);
  return text;
}

// What was said once at the top of a page is no part of it.
function nameOf(url) {
  const name = new URL(url);
  name.hash = "";
  name.searchParams.delete("said");
  return name.href;
}

async function kept(pages) {
  return (await pages.keys()).filter((one) => new URL(one.url).pathname !== PERSON);
}

async function asItWas(url) {
  const pages = await caches.open(PAGES);
  const found = (await pages.match(nameOf(url))) ?? (await pages.match(nameOf(url), { ignoreSearch: true }));
  const at = Number(found?.headers.get(AT));
  if (!found || Date.now() - at > OLDEST) return undefined;
  const text = (await found.text()).replace("<html ", `<html data-kept-at="${at}" `);
  return new Response(text, { headers: found.headers });
}

// A page that was never open here: those that were are offered instead.
async function notHere() {
  const pages = await caches.open(PAGES);
  const lines = [];
  for (const one of (await kept(pages)).reverse().slice(0, 40)) {
    const answer = await pages.match(one);
    const title = /<title>([^<]*)<\/title>/.exec(await answer.text())?.[1] ?? "";
    const address = new URL(one.url);
    lines.push(`<li><a href="${(address.pathname + address.search).replaceAll("&", "&amp;").replaceAll('"', "&quot;")}">${title}</a></li>`);
  }
  const styles = (await (await caches.open(FILES)).keys())
    .map((one) => new URL(one.url).pathname)
    .filter((name) => /\/(tokens|page|head|parts)\.css$/.test(name))
    .map((name) => `<link rel="stylesheet" href="${name}">`);
  const words = lines.length ? `<p>These were open here before:</p><ul>${lines.join("")}</ul>` : "";
  const text = `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>No connection</title>${styles.join("")}</head>
<body><main id="main"><h1>No connection to the shop's computer</h1>
<p>This page was not open on this device before, so it can't be shown now. What you wrote down is kept.</p>
<p><a href="">Try again</a></p>${words}</main></body></html>`;
  return new Response(text, {
    status: 503,
    headers: {
      "content-type": "text/html; charset=utf-8",
      "content-security-policy": "default-src 'none'; style-src 'self'; font-src 'self'; base-uri 'none'; frame-ancestors 'none'",
    },
  });
}

// Pages that somebody may want next, one after another, with the files that they need.
async function fetchAhead(addresses) {
  for (const address of addresses) {
    const url = new URL(address, location.origin);
    if (url.origin !== location.origin || !onTheFloor(url)) continue;
    const before = await caches.match(nameOf(url), { cacheName: PAGES });
    if (before && Date.now() - Number(before.headers.get(AT)) < FRESH) continue;
    try {
      const answer = await fetch(url, { headers: { accept: "text/html" } });
      if (answer.redirected || answer.status >= 500) return; // signed out, or in trouble: not now
      if (!isPage(answer)) continue;
      const text = await keepPage(url, answer);
      for (const [, name] of text.matchAll(IN_A_PAGE)) await keepFile(new URL(name, location.origin).href);
    } catch {
      return;
    }
    await new Promise((resolve) => { setTimeout(resolve, BETWEEN); });
  }
}
