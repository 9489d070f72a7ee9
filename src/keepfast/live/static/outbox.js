// What was written here and is not yet on the laptop's disk. It is in this browser's own store before the screen says
// so, and leaves it only when the laptop has named it as stored.

const BATCH = 50;
const TIMEOUT_MS = 3000;
const PAUSES_MS = [400, 1000, 2000, 4000];

/** Sixteen random bytes with the time in front: a UUID of version 7 (RFC 9562), made without asking anyone. */
export function newId(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0; i < 6; i += 1) bytes[i] = Math.floor(now / 256 ** (5 - i)) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

/** This moment with this device's offset, as 2026-03-14T21:05:00.123+02:00. */
export function moment(now = new Date()) {
  const minutes = -now.getTimezoneOffset();
  const two = (value) => String(Math.trunc(Math.abs(value))).padStart(2, "0");
  const local = new Date(now.getTime() + minutes * 60000).toISOString().slice(0, 23);
  return `${local}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

function done(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error || new Error("aborted"));
    transaction.onerror = () => reject(transaction.error);
  });
}

function result(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function open() {
  const request = indexedDB.open("keepfast", 1);
  request.onupgradeneeded = () => {
    const db = request.result;
    db.createObjectStore("waiting", { keyPath: "n", autoIncrement: true }).createIndex("id", "entry.id", { unique: true });
    db.createObjectStore("refused", { keyPath: "entry.id" });
    db.createObjectStore("kept");
  };
  return result(request);
}

// The store takes a slow phone a tenth of a second to open: it is begun before the rest of the page is there.
const opening = (async () => open())();
opening.catch(() => {});

export class Outbox extends EventTarget {
  /** Opens the store of this browser; fails where the browser keeps nothing. */
  static async open(book) {
    const outbox = new Outbox();
    // Several books may have been open at this address: what counts as safe, and which numbers are ours, is by book.
    outbox.safeName = `safe ${book}`;
    outbox.blockName = `block ${book}`;
    outbox.db = await opening;
    outbox.db.onversionchange = () => outbox.db.close();
    outbox.state = { waiting: 0, safe: 0, refused: 0, oldest: null, trouble: "", words: "" };
    outbox.waitingIds = new Set();
    // All that is needed at the start is read at once: each turn to the store costs a slow phone a tenth of a second.
    const transaction = outbox.db.transaction(["kept", "refused", "waiting"]);
    const kept = transaction.objectStore("kept");
    const [offset, device, who, under, safe, rows, refused] = await Promise.all([
      ...["offset", "device", "who", "under", outbox.safeName].map((name) => result(kept.get(name))),
      result(transaction.objectStore("waiting").getAll()),
      result(transaction.objectStore("refused").count()),
    ]);
    Object.assign(outbox, { offset: offset || 0, device: device || `device ${newId().slice(-8)}`, who, under });
    if (!device) outbox.keep("device", outbox.device);
    outbox.holds(rows, refused, safe);
    outbox.channel = "BroadcastChannel" in window ? new BroadcastChannel("keepfast") : null;
    if (outbox.channel) outbox.channel.onmessage = () => outbox.count();
    outbox.tries = 0;
    outbox.sending = false;
    if (refused) {
      await outbox.offerAgain();
      await outbox.count();
    }
    for (const [target, event] of [[window, "online"], [document, "visibilitychange"], [window, "focus"]]) {
      target.addEventListener(event, () => { outbox.tries = 0; outbox.send(); });
    }
    outbox.send();
    return outbox;
  }

  async kept(name) {
    return result(this.db.transaction("kept").objectStore("kept").get(name));
  }

  async keep(name, value) {
    const transaction = this.db.transaction("kept", "readwrite", { durability: "strict" });
    transaction.objectStore("kept").put(value, name);
    return done(transaction);
  }

  /** Write one entry on this device. Once this returns, a reload or a crash does not lose it. */
  async put(said, after = 0) {
    const transaction = this.db.transaction(["waiting", "kept"], "readwrite", { durability: "strict" });
    const kept = transaction.objectStore("kept");
    const before = (await result(kept.get("order"))) || 0;
    // The place in order never goes back, whatever the clock of this device does.
    const order = Math.max(Date.now() + this.offset, before + 1, after + 1);
    const entry = { id: newId(), at: moment(), device: this.device, order_ms: Math.round(order), clock_ms: Math.round(this.offset), ...said };
    kept.put(entry.order_ms, "order");
    transaction.objectStore("waiting").add({ entry, put: Date.now() });
    await done(transaction);
    await this.count();
    this.tell();
    this.tries = 0;
    this.send();
    return entry;
  }

  /** All that waits here, oldest first. */
  async waiting(limit = undefined) {
    return result(this.db.transaction("waiting").objectStore("waiting").getAll(null, limit));
  }

  async refused() {
    return result(this.db.transaction("refused").objectStore("refused").getAll());
  }

  /** What another book did not take may belong to this one: it waits again. */
  async offerAgain() {
    const transaction = this.db.transaction(["waiting", "refused"], "readwrite", { durability: "strict" });
    const refused = transaction.objectStore("refused");
    for (const row of await result(refused.getAll())) {
      if (row.by === this.safeName) continue;
      transaction.objectStore("waiting").add({ entry: row.entry, put: Date.now() });
      refused.delete(row.entry.id);
    }
    return done(transaction);
  }

  async count() {
    const transaction = this.db.transaction(["waiting", "refused", "kept"]);
    const [rows, refused, safe] = await Promise.all([
      result(transaction.objectStore("waiting").getAll()),
      result(transaction.objectStore("refused").count()),
      result(transaction.objectStore("kept").get(this.safeName)),
    ]);
    this.holds(rows, refused, safe);
    this.dispatchEvent(new Event("change"));
  }

  holds(rows, refused, safe) {
    this.rows = rows;
    this.waitingIds = new Set(rows.map((row) => row.entry.id));
    Object.assign(this.state, { waiting: rows.length, refused, safe: safe || 0, oldest: rows.length ? rows[0].put : null });
  }

  tell() {
    if (this.channel) this.channel.postMessage("changed");
  }

  /** Send what waits, again and again until it is stored; sending twice does no harm. */
  async send() {
    if (this.sending) return;
    this.sending = true;
    clearTimeout(this.timer);
    try {
      for (;;) {
        const rows = await this.waiting(this.batch || BATCH);
        if (!rows.length) break;
        const answer = await this.post(rows.map((row) => row.entry));
        await this.settle(rows, answer);
        this.tries = 0;
        this.batch = BATCH;
        Object.assign(this.state, { trouble: "", words: "" });
        await this.count();
        this.tell();
        this.dispatchEvent(new CustomEvent("stored", { detail: answer }));
      }
    } catch (problem) {
      // A few long ones may be too much at once; one by one they are not.
      if (problem.code === "too_large") this.batch = 1;
      Object.assign(this.state, { trouble: problem.code || "away", words: problem.words || "" });
      this.dispatchEvent(new Event("change"));
      this.timer = setTimeout(() => this.send(), PAUSES_MS[Math.min(this.tries, PAUSES_MS.length - 1)]);
      this.tries += 1;
    } finally {
      this.sending = false;
    }
  }

  async post(entries) {
    const abort = new AbortController();
    const stop = setTimeout(() => abort.abort(), TIMEOUT_MS);
    try {
      const left = Date.now();
      const response = await fetch("/api/entries", {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify({ entries }),
        signal: abort.signal,
        cache: "no-store",
      });
      const answer = await response.json().catch(() => ({}));
      if (!response.ok) throw Object.assign(new Error("refused"), { code: answer.problem || String(response.status), words: answer.words || "" });
      if (!Array.isArray(answer.stored)) throw new Error("no answer");
      this.hear(answer.now_ms, left);
      return answer;
    } finally {
      clearTimeout(stop);
    }
  }

  /** Learn how far this device's clock is from the laptop's. */
  hear(serverNow, left) {
    if (!serverNow) return;
    const offset = serverNow - (left + Date.now()) / 2;
    if (Math.abs(offset - this.offset) > 1000) {
      this.offset = Math.abs(offset) > 1000 ? offset : 0;
      this.keep("offset", this.offset);
    }
  }

  async settle(rows, answer) {
    const stored = new Set(answer.stored);
    const refused = new Map((answer.refused || []).map((item) => [item.id, item.words]));
    const transaction = this.db.transaction(["waiting", "refused", "kept"], "readwrite", { durability: "strict" });
    const waiting = transaction.objectStore("waiting");
    const kept = transaction.objectStore("kept");
    let count = 0;
    for (const row of rows) {
      const { id } = row.entry;
      if (!stored.has(id) && !refused.has(id)) continue;
      // Another page of this browser may have settled it already; count it once.
      if (!(await result(waiting.get(row.n)))) continue;
      waiting.delete(row.n);
      if (stored.has(id)) count += 1;
      else transaction.objectStore("refused").put({ entry: row.entry, words: refused.get(id), by: this.safeName });
    }
    kept.put(((await result(kept.get(this.safeName))) || 0) + count, this.safeName);
    await done(transaction);
  }

  /** Everything on this device that is not yet safe, as a file that the laptop can take in. */
  async file() {
    const rows = await this.waiting();
    const refused = await this.refused();
    return JSON.stringify({ keepfast: "waiting entries", entries: [...rows, ...refused].map((row) => row.entry) }, null, 1);
  }
}
