// The service worker: fetches a whole version, checks every file, and from then on answers from it alone.
// POCKET, the version with its files and their checksums, stands before this text.
"use strict";

const SHELF = `subbase-pocket ${POCKET.version}`;
const TYPES = {
  html: "text/html; charset=utf-8", js: "text/javascript; charset=utf-8", mjs: "text/javascript; charset=utf-8",
  css: "text/css; charset=utf-8", json: "application/json", svg: "image/svg+xml", png: "image/png", ttf: "font/ttf",
  wasm: "application/wasm", zip: "application/octet-stream", txt: "text/plain; charset=utf-8",
  webmanifest: "application/manifest+json",
};
const here = (name) => new URL(name, self.registration.scope).href;
// What a host holds squeezed is kept plain, because browsers keep what they compiled of a plain answer.
const plainName = (name) => name.replace(/\.gz$/, "");
const total = Object.values(POCKET.files).reduce((sum, file) => sum + file.size, 0);
const NAMES = new Set(Object.keys(POCKET.files).map(plainName));
const tell = async (message) => {
  for (const client of await self.clients.matchAll({ type: "window", includeUncontrolled: true })) client.postMessage(message);
};
const checksum = async (data) =>
  [...new Uint8Array(await crypto.subtle.digest("SHA-256", data))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

self.addEventListener("install", (event) => event.waitUntil(fill()));

// Every file or none: one that does not come, or is of another version, fails the whole, and what was there stays in use.
async function fill() {
  const shelf = await caches.open(SHELF);
  let done = 0;
  const progress = (more) => {
    done += more;
    return tell({ pocket: "fetched", done, all: total, version: POCKET.version });
  };
  const olds = [];
  for (const name of await caches.keys()) if (name.startsWith("subbase-pocket ") && name !== SHELF) olds.push(await caches.open(name));
  for (const [name, { sha256, size }] of Object.entries(POCKET.files)) {
    if (await kept([shelf, ...olds], shelf, name, sha256)) {
      await progress(size);
      continue;
    }
    // Past the browser's own cache: a host that tells times in whole seconds calls a file unchanged that was changed twice in one.
    const answer = await fetch(here(name), { cache: "reload" });
    if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
    const data = await read(answer, progress);
    if ((await checksum(data)) !== sha256) throw new Error(`${name} is not of version ${POCKET.version}`);
    await put(shelf, name, sha256, data);
  }
}

async function kept(shelves, shelf, name, sha256) {
  for (const other of shelves) {
    const found = await other.match(here(plainName(name)));
    if (!found || found.headers.get("X-Checksum") !== sha256) continue;
    if (other !== shelf) await shelf.put(here(plainName(name)), found);
    return true;
  }
  return false;
}

async function read(answer, progress) {
  const reader = answer.body.getReader();
  const parts = [];
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    parts.push(value);
    await progress(value.length);
  }
  return new Blob(parts).arrayBuffer();
}

async function put(shelf, name, sha256, data) {
  const squeezed = name.endsWith(".gz");
  const body = squeezed ? new Blob([data]).stream().pipeThrough(new DecompressionStream("gzip")) : data;
  const type = TYPES[plainName(name).split(".").pop()] || "application/octet-stream";
  await shelf.put(here(plainName(name)), new Response(body, { headers: { "Content-Type": type, "X-Checksum": sha256 } }));
}

self.addEventListener("activate", (event) =>
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name.startsWith("subbase-pocket ") && name !== SHELF) await caches.delete(name);
      await self.clients.claim();
    })(),
  ),
);

self.addEventListener("message", (event) => {
  if (event.data === "use it") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  const scope = new URL(self.registration.scope);
  if (event.request.method !== "GET" || url.origin !== scope.origin || !url.pathname.startsWith(scope.pathname)) return;
  const name = url.pathname.slice(scope.pathname.length) || "index.html";
  if (NAMES.has(name)) event.respondWith(found(event.request, name));
});

async function found(request, name) {
  const shelf = await caches.open(SHELF);
  return (await shelf.match(here(name))) || fetch(request);
}
