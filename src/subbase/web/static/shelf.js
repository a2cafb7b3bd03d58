// What a phone keeps while there is no network: pages, and entries that the server has not got. One shelf, used by the
// page and by the service worker alike. An entry leaves the shelf when the server has answered for it, never before.
"use strict";

const subbaseShelf = (() => {
  const NAME = "subbase";
  const PAGES = "subbase-pages";
  let opened = null;

  const done = (request) =>
    new Promise((resolve, reject) => {
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });

  const open = () => {
    opened ??= new Promise((resolve, reject) => {
      const request = indexedDB.open(NAME, 1);
      request.onupgradeneeded = () => {
        const entries = request.result.createObjectStore("entries", { keyPath: "id", autoIncrement: true });
        entries.createIndex("job", "job");
        request.result.createObjectStore("told", { keyPath: "name" });
      };
      request.onsuccess = () => {
        request.result.onversionchange = () => request.result.close();
        request.result.onclose = () => { opened = null; };
        resolve(request.result);
      };
      request.onerror = () => { opened = null; reject(request.error); };
    });
    return opened;
  };

  // One transaction, over when it is on the disk: an entry that was put is there after the phone's battery died.
  const within = async (store, mode, act) => {
    const database = await open();
    return new Promise((resolve, reject) => {
      const transaction = database.transaction(store, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
      let result;
      transaction.oncomplete = () => resolve(result);
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
      Promise.resolve(act(transaction.objectStore(store))).then((value) => { result = value; }, reject);
    });
  };

  const entries = (job = null) =>
    within("entries", "readonly", (store) => done(job === null ? store.getAll() : store.index("job").getAll(job)));
  const entry = (id) => within("entries", "readonly", (store) => done(store.get(id)));
  const put = (item) => within("entries", "readwrite", (store) => done(store.put(item)));
  // With a key, only when the entry is still the one of that key: it may have been made anew meanwhile.
  const remove = (id, key = "") =>
    within("entries", "readwrite", async (store) => {
      const item = await done(store.get(id));
      if (item && (!key || item.key === key)) await done(store.delete(id));
    });
  // Change an entry as it is on the disk at that moment; it may be gone meanwhile.
  const change = (id, how) =>
    within("entries", "readwrite", async (store) => {
      const item = await done(store.get(id));
      if (item) await done(store.put({ ...item, ...how(item) }));
    });

  const told = async (name) => {
    const found = await within("told", "readonly", (store) => done(store.get(name)));
    return found ? found.value : null;
  };
  const tell = (name, value) => within("told", "readwrite", (store) => done(store.put({ name, value })));
  const untell = (name) => within("told", "readwrite", (store) => done(store.delete(name)));
  const allTold = () => within("told", "readonly", (store) => done(store.getAll()));

  const newKey = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  };

  const field = (item, name) => {
    const found = item.fields.find(([given]) => given === name);
    return found && typeof found[1] === "string" ? found[1] : "";
  };
  const jobOf = (path) => (path.match(/^\/jobs\/([^/?#]+)/) || [])[1] || "";

  return { PAGES, entries, entry, put, remove, change, told, tell, untell, allTold, newKey, field, jobOf };
})();
