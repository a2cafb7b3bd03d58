"use strict";

// What the phone keeps: jobs, and their entries in the order in which they were made. Nothing is ever changed but the mark
// that the office has an entry.
const subbaseStore = (() => {
  let memory = null;
  const opened = new Promise((resolve) => {
    let asked;
    try {
      asked = indexedDB.open("subbase pocket", 1);
    } catch {
      resolve(null);
      return;
    }
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("jobs", { keyPath: "id" });
      const entries = asked.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
      entries.createIndex("job", "job");
      entries.createIndex("key", "key", { unique: true });
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => resolve(null);
    asked.onblocked = () => resolve(null);
  }).then((database) => {
    if (!database) memory = { jobs: new Map(), entries: [] };
    return database;
  });

  const done = (asked) =>
    new Promise((resolve, reject) => {
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  const whole = (transaction) =>
    new Promise((resolve, reject) => {
      transaction.oncomplete = () => resolve();
      transaction.onabort = () => reject(transaction.error);
      transaction.onerror = () => reject(transaction.error);
    });

  const jobs = async () => {
    const database = await opened;
    const found = database ? await done(database.transaction("jobs").objectStore("jobs").getAll()) : [...memory.jobs.values()];
    return found.sort((a, b) => (a.changed < b.changed ? 1 : -1));
  };
  const rows = async (job) => {
    const database = await opened;
    if (!database) return memory.entries.filter((row) => row.job === job);
    return done(database.transaction("entries").objectStore("entries").index("job").getAll(job));
  };
  // All of them or none, on the disk before it is said that they are kept.
  const add = async (job, name, entries) => {
    const database = await opened;
    const line = { id: job, name, changed: new Date().toISOString() };
    if (!database) {
      memory.jobs.set(job, line);
      memory.entries.push(...entries.map((entry) => ({ job, key: entry.key, entry, sent: false })));
      return;
    }
    const transaction = database.transaction(["jobs", "entries"], "readwrite", { durability: "strict" });
    transaction.objectStore("jobs").put(line);
    for (const entry of entries) transaction.objectStore("entries").add({ job, key: entry.key, entry, sent: false });
    await whole(transaction);
  };
  const sent = async (job, keys) => {
    const database = await opened;
    const gone = new Set(keys);
    if (!database) {
      for (const row of memory.entries) if (gone.has(row.key)) row.sent = true;
      return;
    }
    const found = await rows(job);
    const transaction = database.transaction("entries", "readwrite");
    for (const row of found) if (gone.has(row.key)) transaction.objectStore("entries").put({ ...row, sent: true });
    await whole(transaction);
  };
  const forget = async (job) => {
    const database = await opened;
    if (!database) {
      memory.jobs.delete(job);
      memory.entries = memory.entries.filter((row) => row.job !== job);
      return;
    }
    const found = await rows(job);
    const transaction = database.transaction(["jobs", "entries"], "readwrite");
    transaction.objectStore("jobs").delete(job);
    for (const row of found) transaction.objectStore("entries").delete(row.order);
    await whole(transaction);
  };
  const lasts = async () => Boolean(await opened);
  return { jobs, rows, add, sent, forget, lasts };
})();
