// The service worker: pages from the network first, from the shelf when it does not answer; forms onto the shelf first,
// then to the server, in the order in which they were made. STATIC and FIRST stand before this text.
"use strict";

const shelf = subbaseShelf;
const FILES = `subbase-files ${STATIC}`;
const PAGE_MS = 4000;
const FORM_MS = 10000;
const PHOTO_MS = 60000;
const DOWN_MS = 5000;
const MOST_JOBS = 12;
const MOST_TRIES = 5;
const MOST_LOOKS = 40;
const FULL_MS = 300_000;
const AS_OF = "X-Kept-At";
let downAt = 0;
// When the server last let an entry wait for too long: its disk may be slow, while pages still come from it.
let heldAt = 0;

const path = (url) => url.pathname + url.search;
const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
const timed = async (request, options, ms) => {
  // The limit is for the answer to begin; a long page may take longer to come.
  const cut = new AbortController();
  const timer = setTimeout(() => cut.abort(), ms);
  try {
    const answer = await fetch(request, { ...options, signal: cut.signal });
    downAt = 0;
    return answer;
  } catch (error) {
    downAt = Date.now();
    throw error;
  } finally {
    clearTimeout(timer);
  }
};
const tellPages = async (message) => {
  for (const client of await self.clients.matchAll({ type: "window", includeUncontrolled: true })) client.postMessage(message);
};

self.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const files = await caches.open(FILES);
      await files.addAll(FIRST.files.map((name) => `${STATIC}/${name}`));
      await keepFirst();
      await self.skipWaiting();
    })(),
  );
});

// The pages that every person needs here; some of them only once somebody has signed in.
// When they are made anew, the old one goes only then; help has nothing of anybody in it, and without network some page
// must say so.
async function keepFirst(anew = false) {
  const pages = await caches.open(shelf.PAGES);
  for (const page of FIRST.pages) {
    if (!anew && (await pages.match(page))) continue;
    const answer = await fetch(page).catch(() => null);
    if (answer && answer.status === 200 && !answer.redirected) await keepPage(pages, page, answer);
    else if (anew && (answer || !page.startsWith("/help/"))) await pages.delete(page);
  }
}

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name.startsWith("subbase-files") && name !== FILES) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (url.origin !== self.location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(event.request, url));
  else if (isForm(event.request) && shelf.jobOf(url.pathname)) event.respondWith(form(event, url));
  else if (event.request.method === "POST" && event.request.mode === "navigate") event.respondWith(fetch(event.request).catch(notKept));
  else if (event.request.method !== "GET") return;
  else if (event.request.mode === "navigate") event.respondWith(page(event, url));
  else if (/\/photos\/[0-9a-f]+\.jpg$/.test(url.pathname)) event.respondWith(photo(event.request, url));
});

// A form of a page, or the survey sent by its own script; other scripts speak with the server themselves.
const isForm = (request) => request.method === "POST" && (request.mode === "navigate" || request.headers.get("X-Part") === "form");

// Files bear a hash of their content. A page that was kept before an update gets the file of that name as it is now.
async function file(request, url) {
  const files = await caches.open(FILES);
  const name = url.pathname.split("/").pop();
  const same = await files.match(`${STATIC}/${name}`);
  if (same && url.pathname.startsWith(`${STATIC}/`)) return same;
  try {
    return await fetch(request);
  } catch {
    return same || Response.error();
  }
}

async function photo(request, url) {
  const pages = await caches.open(shelf.PAGES);
  const kept = await pages.match(path(url));
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok && url.searchParams.has("small")) await pages.put(path(url), answer.clone());
  return answer;
}

// --- pages -----------------------------------------------------------------------------------------------------------

// Grows whenever pages are let go of: what was asked for before that is not kept when it comes.
let lettingGo = 0;

async function keepPage(pages, key, answer, since = lettingGo) {
  const headers = new Headers(answer.headers);
  headers.set(AS_OF, new Date().toISOString());
  // The body is decoded by now; sizes and encodings of the wire no longer fit.
  for (const name of ["Content-Encoding", "Content-Length", "Refresh"]) headers.delete(name);
  const body = await answer.blob();
  if (since !== lettingGo) return;
  await pages.put(key, new Response(body, { status: 200, headers }));
  if (since !== lettingGo) await pages.delete(key);
}

const keepable = (url, answer) =>
  answer.status === 200 && !answer.redirected && !url.searchParams.has("again") && !url.searchParams.has("step") &&
  /^(\/|\/jobs\/[^/]+\/.*)$/.test(url.pathname) && !/\/(field-file|job-file|survey\.yaml|erase)$/.test(url.pathname) &&
  !(answer.headers.get("Content-Disposition") || "").startsWith("attachment");

async function page(event, url) {
  const job = shelf.jobOf(url.pathname);
  const since = lettingGo;
  const isDown = () => Date.now() - downAt < DOWN_MS;
  const isHeld = Date.now() - heldAt < DOWN_MS;
  // What waits goes first, so that the page shows it.
  if (job && !isHeld && !isDown() && (await shelf.entries(job)).some((item) => item.state === "waiting")) await Promise.race([drain(), pause(PAGE_MS)]);
  const kept = await keptPage(url, job);
  // The server's page would show undone what was just told.
  if (kept && job && isHeld) return kept();
  try {
    // A request to navigate cannot be given a limit, so it is made anew.
    const options = { redirect: "manual", headers: { Accept: "text/html,*/*" } };
    const answer = kept ? await timed(path(url), options, isDown() ? PAGE_MS / 4 : PAGE_MS) : await fetch(event.request);
    if (kept && [502, 503, 504].includes(answer.status)) return kept();
    // Erased, or taken from this person: what was kept of it goes; what was entered and not sent stays, and is told.
    if (kept && job && answer.status === 404) event.waitUntil(forgetJob(job));
    if (keepable(url, answer)) {
      const copy = answer.clone();
      event.waitUntil(caches.open(shelf.PAGES).then((pages) => keepPage(pages, path(url), copy, since)));
    }
    return answer;
  } catch {
    return kept ? kept() : notKept();
  }
}

// Return a function that makes the kept page, or null when there is none.
async function keptPage(url, job) {
  const pages = await caches.open(shelf.PAGES);
  const work = `/jobs/${job}/work`;
  let keys = [path(url), url.pathname];
  if (job && url.pathname === `/jobs/${job}`) keys = [`/jobs/${job}/plan`, `/jobs/${job}/survey`];
  // Pages that are made to be walked without network stand beside those that were looked at.
  if (job && url.pathname === `/jobs/${job}/check`) keys = [`/kept/jobs/${job}/check`, ...keys];
  if (job && url.pathname === work) {
    const stand = await subbaseWalk.standing(job);
    const wanted = stand ? url.searchParams.get("step") || subbaseWalk.next(stand) : "";
    const number = stand ? stand.steps.findIndex((step) => step.id === wanted) : -1;
    if (stand) keys = [`/kept${work}/${number < 0 ? "end" : number}`, ...keys];
  }
  for (const key of keys) {
    const found = await pages.match(key);
    if (found) return () => asKept(found);
  }
  return null;
}

async function asKept(found) {
  if (!(found.headers.get("Content-Type") || "").startsWith("text/html")) return found;
  const at = new Date(found.headers.get(AS_OF) || Date.now());
  const two = (number) => String(number).padStart(2, "0");
  const clock = `${two(at.getHours())}:${two(at.getMinutes())}`;
  const today = new Date().toDateString() === at.toDateString();
  const day = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  const text = (await found.text())
    .replace('data-kept="no"', 'data-kept="yes"')
    .replace('id="as-of" hidden', 'id="as-of"')
    .replace('<time id="as-of-time"></time>', `<time id="as-of-time" datetime="${at.toISOString()}">${today ? clock : `${day} ${clock}`}</time>`);
  return new Response(text, { status: 200, headers: found.headers });
}

async function notKept() {
  const found = await (await caches.open(shelf.PAGES)).match("/help/not-kept");
  return found ? new Response(await found.text(), { status: 503, headers: found.headers }) : Response.error();
}

// --- forms -----------------------------------------------------------------------------------------------------------

async function form(event, url) {
  const request = event.request;
  const part = request.headers.get("X-Part") || "";
  let fields;
  const copy = request.clone();
  try {
    fields = [...(await request.formData()).entries()];
  } catch {
    return fetch(copy);
  }
  const key = (fields.find(([name]) => name === "key") || [])[1];
  // What bears no key cannot be sent twice without harm, so it is sent once, now or not at all.
  if (!key || /\/(file|entries-file)$/.test(url.pathname)) return fetch(copy).catch(part ? () => Response.error() : notKept);
  const take = (name) => {
    const at = fields.findIndex(([given]) => given === name);
    return at < 0 ? "" : fields.splice(at, 1)[0][1];
  };
  const item = {
    key, job: shelf.jobOf(url.pathname), path: path(url), part, state: "waiting", tries: 0, said: "", made_at: new Date().toISOString(),
    what: take("kept-what"), person: take("kept-person"), at: request.referrer ? path(new URL(request.referrer)) : "", fields,
  };
  const last = part ? await madeOnTopOf(item) : null;
  if (last) {
    item.id = last.id;
    item.fields = item.fields.map(([name, value]) => [name, name === "after" ? shelf.field(last, "after") : value]);
  }
  try {
    item.id = await shelf.put(item);
  } catch {
    // No room on the phone: the network or nothing, and the browser says which.
    return fetch(copy);
  }
  let answer = null;
  try {
    if (Date.now() - downAt > DOWN_MS || !(await othersWait(item))) answer = await drain(item.id, { direct: true });
  } catch {
    answer = null;
  }
  if (answer) {
    await tellPages({ type: "shelf" });
    return answer;
  }
  await tellPages({ type: "shelf" });
  if (self.registration.sync) await self.registration.sync.register("send").catch(() => {});
  if (part) return new Response(JSON.stringify({ kept: key }), { status: 202, headers: { "Content-Type": "application/json", "X-Kept": "yes" } });
  return Response.redirect(await after(item), 303);
}

const othersWait = async (item) => (await shelf.entries(item.job)).some((other) => other.id !== item.id && other.state === "waiting");

// An edit of the survey holds every field: one that was never tried to send gives way to the one made on top of it.
async function madeOnTopOf(item) {
  const last = (await shelf.entries(item.job)).filter((other) => other.state === "waiting").pop();
  const fits = last && last.part && last.path === item.path && last.key === shelf.field(item, "after");
  return fits && !last.tries && !shelf.field(last, "do") && !shelf.field(item, "do") ? last : null;
}

// Where a person goes who told something without network.
async function after(item) {
  const work = `/jobs/${item.job}/work`;
  if (item.path === `${work}/result`) {
    const step = encodeURIComponent(shelf.field(item, "step"));
    const before = await subbaseWalk.standing(item.job, item.id);
    const reason = before ? subbaseWalk.refusal(before, item) : "";
    if (reason) {
      await shelf.remove(item.id);
      await shelf.tell(`said ${item.job}`, { step: shelf.field(item, "step"), reason });
      await tellPages({ type: "shelf" });
      return `${work}?step=${step}`;
    }
    return shelf.field(item, "act") === "undo" ? `${work}?step=${step}` : work;
  }
  if (item.path === `${work}/day`) return work;
  if (item.path.endsWith("/check/readings")) {
    const read = item.fields.filter(([name, value]) => name.startsWith("v-") && value).map(([name]) => name.slice(2));
    return `/jobs/${item.job}/check${read.length === 1 ? `#c-${read[0]}` : ""}`;
  }
  if (item.path.endsWith("/photos")) return `/jobs/${item.job}/survey#photos`;
  return item.at || `/jobs/${item.job}/survey`;
}

// --- sending ---------------------------------------------------------------------------------------------------------

let line = Promise.resolve();

// Send what waits, oldest first, one at a time; returns the answer to entry ``wanted``, or null when it did not go.
function drain(wanted = 0, { direct = false } = {}) {
  const run = line.then(() => sendAll(wanted, direct));
  line = run.then(() => {}, () => {});
  return run;
}

async function sendAll(wanted, direct) {
  let pass = null;
  let wait = false;
  for (const item of (await shelf.entries()).filter((found) => found.state === "waiting")) {
    const own = direct && item.id === wanted;
    if (!own && !pass) {
      pass = await token();
      if (!pass) return null;
    }
    // An entry belongs to the person who made it; nobody else's name may stand under it.
    if (!own && item.person && item.person !== pass.person) continue;
    if (wait && wait === item.job) continue;
    const answer = await send(item, own ? null : pass.csrf);
    if (answer === null) return null;
    if (answer === "later") wait = item.job;
    else if (own) return answer;
  }
  return null;
}

async function token() {
  try {
    const answer = await timed("/unsent/token", { headers: { Accept: "application/json" } }, PAGE_MS);
    if (!answer.ok || answer.redirected) throw new Error("signed out");
    const found = await answer.json();
    await shelf.tell("signed out", false);
    return found;
  } catch (error) {
    if (error.message === "signed out" || error instanceof SyntaxError) {
      await shelf.tell("signed out", true);
      await tellPages({ type: "shelf" });
    }
    return null;
  }
}

// Send one entry. Returns the answer when the server took it or a person sees why not; "later" when it is to be tried
// again; null when there is no network.
async function send(item, csrf) {
  await shelf.change(item.id, (now) => ({ tries: now.tries + 1 }));
  const body = new FormData();
  let large = false;
  for (const [name, value] of item.fields) {
    large ||= typeof value !== "string";
    if (typeof value === "string") body.append(name, name === "csrf" && csrf !== null ? csrf : value);
    else body.append(name, value, value.name || "photo");
  }
  const headers = { "X-Made-At": item.made_at };
  if (item.part) headers["X-Part"] = item.part;
  let answer;
  try {
    answer = await timed(item.path, { method: "POST", body, headers, redirect: item.part ? "follow" : "manual" }, large ? PHOTO_MS : FORM_MS);
  } catch (error) {
    if (error.name === "AbortError") heldAt = Date.now();
    return null;
  }
  const took = answer.type === "opaqueredirect" || (answer.status >= 200 && answer.status < 400);
  if (took) {
    heldAt = 0;
    await remember(item);
    // The same form may have been sent again from another page: it bears the same key.
    for (const same of await shelf.entries(item.job)) if (same.key === item.key) await shelf.remove(same.id, item.key);
    await tellPages({ type: "shelf", sent: item.key, job: item.job });
    return answer;
  }
  const own = csrf === null;
  if (answer.status === 401) {
    await shelf.tell("signed out", true);
    return own ? answer : null;
  }
  if (own && answer.status === 403 && shelf.field(item, "csrf")) {
    // A page that was kept bears the mark of a session that may be over.
    const pass = await token();
    if (pass && pass.csrf !== shelf.field(item, "csrf")) return send(item, pass.csrf);
  }
  if (own && !item.part && answer.status === 422) {
    // The page that comes back shows what was typed and why it was not taken.
    await shelf.remove(item.id);
    return answer;
  }
  const said = sentences(await answer.clone().text()) || `${answer.status} ${answer.statusText}`;
  const again = answer.status === 429 || answer.status >= 500;
  if (again && item.tries + 1 < MOST_TRIES) {
    await shelf.change(item.id, () => ({ said }));
    return own ? answer : "later";
  }
  await shelf.change(item.id, () => ({ state: "refused", said }));
  await tellPages({ type: "shelf" });
  return answer;
}

// What a page of ours says of a form that it did not take.
function sentences(text) {
  const found = [];
  const plain = (html) =>
    html.replace(/<[^<>]*>/g, " ").replace(/&#39;/g, "'").replace(/&#34;|&quot;/g, '"').replace(/&lt;/g, "<").replace(/&gt;/g, ">").replace(/&amp;/g, "&").replace(/\s+/g, " ").trim();
  for (const match of text.matchAll(/<section class="verdict stopped" role="alert"[^>]*>([\s\S]*?)<\/section>|<p class="mark fail" id="f-[^>]*>([\s\S]*?)<\/p>/g)) found.push(plain(match[1] || match[2]));
  if (!found.length) {
    const main = text.match(/<main[^>]*>([\s\S]*?)<\/main>/);
    if (main) found.push(plain(main[1]));
  }
  return found.join(" ").slice(0, 600);
}

// What was sent since the job was kept counts for the steps that come next.
async function remember(item) {
  if (!item.path.endsWith("/work/result")) return;
  const sent = (await shelf.told(`sent ${item.job}`)) || [];
  await shelf.tell(`sent ${item.job}`, [...sent, { path: item.path, fields: item.fields, at: Date.now() }].slice(-500));
}

// --- keeping a job ---------------------------------------------------------------------------------------------------

self.addEventListener("message", (event) => {
  const { type, job, sequence, person, spare } = event.data || {};
  if (type === "send") downAt = 0;
  if (type === "send") event.waitUntil(drain().then(() => tellPages({ type: "shelf" })));
  if (type === "visited") event.waitUntil(visited(job, sequence, person, spare));
});

self.addEventListener("sync", (event) => {
  if (event.tag === "send") event.waitUntil(drain());
});

let keeping = Promise.resolve();
function visited(job, sequence, person, spare) {
  keeping = keeping.then(() => keepJob(job, sequence, person, spare)).catch(() => {});
  return keeping;
}

async function keepJob(job, sequence, person, spare) {
  const last = await shelf.told("person");
  if (last !== null && last !== person) await forgetPages();
  await shelf.tell("person", person);
  await keepFirst();
  if (!job) return;
  const before = (await shelf.told(`job ${job}`)) || {};
  await shelf.tell(`job ${job}`, { ...before, at: Date.now() });
  if (before.sequence === sequence && before.files === STATIC) {
    await tellPages({ type: "job kept", job });
    return;
  }
  const pages = await caches.open(shelf.PAGES);
  const begun = Date.now();
  const since = lettingGo;
  const held = before.files === STATIC ? before.made || "" : "";
  const work = await looked(`/jobs/${job}/kept.json?have=${held}`);
  const offered = work && work.ok && !work.redirected ? await work.json() : null;
  if (!offered) return;
  // One bar of signal is dear: while the wiring stays, pages that were kept a moment ago are left as they are.
  const same = before.mark === offered.mark && before.files === STATIC;
  const recent = same && before.made && begun - (before.full || 0) < FULL_MS;
  for (const stage of recent ? [] : offered.look_at) {
    if (stage.includes("/papers/") && (spare || (same && (await pages.match(stage))))) continue;
    const answer = await looked(stage);
    // One page that does not come whole is no reason to keep none of the others.
    if (answer && answer.status === 200 && !answer.redirected) await keepPage(pages, stage, answer, since).catch(() => {});
  }
  // The headers that guard a page come with the data, and stay with the pages in it.
  const headers = new Headers(work.headers);
  headers.set("Content-Type", "text/html; charset=utf-8");
  for (const [name, html] of Object.entries(offered.pages)) await keepPage(pages, `/kept${name}`, new Response(html, { headers }), since);
  if (since !== lettingGo) return;
  if (offered.work) {
    await shelf.tell(`work ${job}`, offered.work);
    const sent = (await shelf.told(`sent ${job}`)) || [];
    await shelf.tell(`sent ${job}`, sent.filter((item) => item.at >= begun));
  }
  const full = recent ? before.full : begun;
  await shelf.tell(`job ${job}`, { at: begun, sequence: offered.sequence, files: STATIC, mark: offered.mark, made: offered.made, full });
  await forgetOldest();
  await tellPages({ type: "job kept", job });
}

// Fetch something that the server may first have to work out.
async function looked(what) {
  for (let count = 0; count < MOST_LOOKS; count += 1) {
    const answer = await timed(what, {}, PHOTO_MS).catch(() => null);
    if (!answer || ![202, 429].includes(answer.status)) return answer;
    await pause(1000 * Number(answer.headers.get("Retry-After") || 1.5));
  }
  return null;
}

async function forgetOldest() {
  const jobs = (await shelf.allTold()).filter((item) => item.name.startsWith("job ")).sort((a, b) => b.value.at - a.value.at);
  for (const item of jobs.slice(MOST_JOBS)) await forgetJob(item.name.slice(4));
}

// Let go of the pages of this job; of every job, where none is named.
async function letGo(job) {
  lettingGo += 1;
  const pages = await caches.open(shelf.PAGES);
  for (const request of await pages.keys()) {
    const found = shelf.jobOf(new URL(request.url).pathname.replace(/^\/kept/, ""));
    if (found && (!job || found === job)) await pages.delete(request);
  }
}

async function untellJob(job) {
  for (const name of ["job", "work", "sent", "said"]) await shelf.untell(`${name} ${job}`);
}

async function forgetJob(job) {
  await letGo(job);
  await untellJob(job);
}

// Pages of one person are not for the next; what was entered and not sent stays, under the name of who made it.
async function forgetPages() {
  await letGo("");
  for (const item of await shelf.allTold()) if (item.name.startsWith("job ")) await untellJob(item.name.slice(4));
  await keepFirst(true);
}
