// What waits on this phone: kept by the browser for this address, a database for each book, so that two books at one
// address never mix. The order is a counter, since a phone's clock may be wrong. Nothing here needs a secure context.
"use strict";

(() => {
    const bevelbook = (window.bevelbook = window.bevelbook || {});
    const ENTRIES = "waiting";
    const COUNTERS = "counters";
    const ORDER = "order";
    const PATIENCE_MS = 4000;
    let opened = null;

    // A store that does not answer counts as one that refuses: the form must not hang on it.
    function within(promise) {
        return new Promise((resolve, reject) => {
            const timer = setTimeout(() => reject(new Error("no answer")), PATIENCE_MS);
            promise.then(resolve, reject).finally(() => clearTimeout(timer));
        });
    }

    function open(book) {
        return new Promise((resolve, reject) => {
            const asked = indexedDB.open(`bevelbook-${book}`, 1);
            asked.onupgradeneeded = () => {
                asked.result.createObjectStore(ENTRIES, { keyPath: "key" });
                asked.result.createObjectStore(COUNTERS);
            };
            asked.onsuccess = () => {
                asked.result.onclose = () => {
                    opened = null;
                };
                asked.result.onversionchange = () => {
                    asked.result.close();
                    opened = null;
                };
                resolve(asked.result);
            };
            asked.onerror = () => reject(asked.error);
            asked.onblocked = () => reject(new Error("held by another page"));
        });
    }

    function database(book) {
        opened = opened || open(book);
        opened.catch(() => {
            opened = null;
        });
        return opened;
    }

    // What a transaction gives, once all of it is on the phone.
    async function inTransaction(book, mode, act) {
        const held = await database(book);
        return new Promise((resolve, reject) => {
            const one = held.transaction([ENTRIES, COUNTERS], mode, { durability: "strict" });
            let found;
            one.oncomplete = () => resolve(found);
            one.onabort = () => reject(one.error || new Error("stopped"));
            one.onerror = () => reject(one.error);
            act(one, (value) => {
                found = value;
            });
        });
    }

    function store(book) {
        return {
            // All of them, the first first.
            all: () => within(inTransaction(book, "readonly", (one, give) => {
                one.objectStore(ENTRIES).getAll().onsuccess = (event) => {
                    give(event.target.result.sort((a, b) => a.order - b.order));
                };
            })),
            // Keeps an entry; one that is there already keeps its place and the time at which it was noted.
            put: (entry) => within(inTransaction(book, "readwrite", (one, give) => {
                const entries = one.objectStore(ENTRIES);
                const counters = one.objectStore(COUNTERS);
                entries.get(entry.key).onsuccess = (event) => {
                    const before = event.target.result;
                    if (before) {
                        const { order, drawn_at, since_drawn_ms, noted_ms, after, waited, posted, was_sent } = before;
                        const own = { order, drawn_at, since_drawn_ms, noted_ms, after, waited, posted, was_sent };
                        const kept = { ...entry, ...own };
                        entries.put(kept);
                        give(kept);
                        return;
                    }
                    counters.get(ORDER).onsuccess = (found) => {
                        const kept = { ...entry, order: (found.target.result || 0) + 1 };
                        counters.put(kept.order, ORDER);
                        entries.put(kept);
                        give(kept);
                    };
                };
            })),
            // Puts what was corrected in the place of what waits; gives null where that waits no more. Of one that was
            // sent before, the laptop may have what it said then.
            correct: (entry) => within(inTransaction(book, "readwrite", (one, give) => {
                const entries = one.objectStore(ENTRIES);
                entries.get(entry.key).onsuccess = (event) => {
                    const before = event.target.result;
                    give(null);
                    if (!before) return;
                    const { order, drawn_at, since_drawn_ms, noted_ms, after, posted } = before;
                    const own = { order, drawn_at, since_drawn_ms, noted_ms, after, posted, waited: true };
                    const kept = { ...entry, ...own, was_sent: Boolean(posted) };
                    entries.put(kept);
                    give(kept);
                };
            })),
            // An entry as it is at this moment, marked as sent unless it is being changed; null where it is gone.
            begin: (key, isHeld) => within(inTransaction(book, "readwrite", (one, give) => {
                const entries = one.objectStore(ENTRIES);
                entries.get(key).onsuccess = (event) => {
                    const found = event.target.result || null;
                    if (found && !isHeld(found)) entries.put({ ...found, posted: true });
                    give(found);
                };
            })),
            // Changes what is said of an entry that is still there.
            change: (key, changes) => within(inTransaction(book, "readwrite", (one, give) => {
                const entries = one.objectStore(ENTRIES);
                entries.get(key).onsuccess = (event) => {
                    if (event.target.result) entries.put({ ...event.target.result, ...changes });
                    give(Boolean(event.target.result));
                };
            })),
            remove: (key) => within(inTransaction(book, "readwrite", (one) => {
                one.objectStore(ENTRIES).delete(key);
            })),
        };
    }

    // An id made without what needs a secure context: a UUID of version 4 (RFC 9562, section 5.4).
    function newKey() {
        const bytes = crypto.getRandomValues(new Uint8Array(16));
        bytes[6] = (bytes[6] & 0x0f) | 0x40;
        bytes[8] = (bytes[8] & 0x3f) | 0x80;
        const digits = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
        return [8, 12, 16, 20].reduceRight((text, place) => `${text.slice(0, place)}-${text.slice(place)}`, digits);
    }

    bevelbook.waitingStore = store;
    bevelbook.newKey = newKey;
})();
