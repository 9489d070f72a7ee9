// What every screen does: keep the outbox, hear the laptop, and say in words what is safe and what is not.

import { Known } from "./known.js";
import { Outbox } from "./outbox.js";
import { _, ago, bdi, make, many } from "./words.js";

const SILENCE_MS = 25000;
const $ = (id) => document.getElementById(id);

/** Buttons for day, dusk and red work without the laptop. */
function grounds() {
  for (const button of document.querySelectorAll("[data-choose-ground]")) {
    button.addEventListener("click", (event) => {
      event.preventDefault();
      const ground = button.dataset.chooseGround;
      document.documentElement.dataset.ground = ground;
      document.cookie = `keepfast_ground=${ground}; path=/; max-age=31536000; samesite=strict`;
      for (const other of document.querySelectorAll("[data-choose-ground]")) {
        other.setAttribute("aria-pressed", String(other.dataset.chooseGround === ground));
      }
    });
  }
}

export function download(name, text) {
  const link = make("a", { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

/** The line that says how many entries are safe and how many still wait on this device. */
function showSafe(outbox) {
  const { waiting, safe, refused, oldest, trouble, words } = outbox.state;
  const bar = $("safe");
  bar.classList.toggle("waits", waiting > 0 || refused > 0);
  const parts = [many("{n} entry from here is safe on the laptop", "{n} entries from here are safe on the laptop", safe)];
  parts.push(waiting ? many("{n} waits on this device", "{n} wait on this device", waiting) : _("none waits here"));
  let text = `${parts.join(", ")}.`;
  if (refused) text += ` ${many("{n} was not taken.", "{n} were not taken.", refused)}`;
  if (waiting && trouble === "away") text += ` ${_("The laptop is out of reach; keep writing.")}`;
  else if (waiting && trouble && words) text += ` ${words}`;
  if (outbox.feedAway && !waiting) text += ` ${_("The laptop is out of reach; keep writing.")}`;
  if ($("safe-words").textContent !== text) $("safe-words").textContent = text;
  $("safe-age").textContent = waiting ? _("The oldest has waited {time}.", { time: ago(Date.now() - oldest) }) : "";
  $("safe-file").hidden = !(waiting || refused) || (waiting > 0 && refused === 0 && !trouble);
  $("safe-pair").hidden = trouble !== "unpaired";
  const skew = Math.round(Math.abs(outbox.offset) / 60000);
  $("safe-clock").textContent = skew >= 2
    ? _("This device's clock is off by {time}; entries carry the laptop's time too.", { time: ago(Math.abs(outbox.offset)) })
    : "";
}

/** Listen to the laptop from the last entry known, and again after every break. */
function listen(known, outbox) {
  let source = null;
  let timer = null;
  let heard = Date.now();
  const away = (is) => { if (outbox.feedAway !== is) { outbox.feedAway = is; showSafe(outbox); } };
  const start = () => {
    clearTimeout(timer);
    if (source) source.close();
    if (document.visibilityState === "hidden") return;
    source = new EventSource(`/api/stream?since=${known.seq}`);
    heard = Date.now();
    source.onopen = () => { heard = Date.now(); away(false); outbox.send(); };
    source.addEventListener("entry", (event) => { heard = Date.now(); known.take(JSON.parse(event.data)); });
    source.addEventListener("beat", () => { heard = Date.now(); });
    source.addEventListener("plan", () => { source.close(); renew(); });
    source.onerror = () => {
      source.close();
      away(true);
      timer = setTimeout(start, 1000);
    };
  };
  // Too much was missed to be told one by one: everything is fetched again, and the screen stays as it is.
  const renew = async () => {
    try {
      const response = await fetch("/api/table", { cache: "no-store" });
      if (!response.ok) throw new Error(String(response.status));
      const table = await response.json();
      known.renew(table, (await outbox.waiting()).map((row) => row.entry).filter((entry) => entry.evening === table.evening));
      start();
    } catch {
      away(true);
      timer = setTimeout(renew, 1000);
    }
  };
  // A connection may be dead without saying so; the laptop lets itself be heard every ten seconds.
  setInterval(() => { if (source && source.readyState === 1 && Date.now() - heard > SILENCE_MS) { away(true); start(); } }, 5000);
  document.addEventListener("visibilitychange", start);
  window.addEventListener("online", start);
  window.addEventListener("pagehide", () => source && source.close());
  window.addEventListener("pageshow", (event) => { if (event.persisted) start(); });
  start();
}

/** Open everything a screen needs. Says so in words, and stops, where this browser cannot keep an entry. */
export async function begin() {
  grounds();
  const table = JSON.parse($("table-data").textContent);
  let outbox;
  try {
    outbox = await Outbox.open(table.book);
  } catch {
    $("safe").classList.add("waits");
    $("safe-words").textContent = _("This browser keeps nothing (a private window, or its store is full). Nothing written here would be kept: use another browser or window.");
    throw new Error("nothing can be kept here");
  }
  const known = new Known(table);
  const me = { who: outbox.who || table.device.name, under: outbox.under || "" };
  for (const row of outbox.rows) if (row.entry.evening === table.evening) known.take({ ...row.entry });

  /** Write an entry: on this device first, then known to the screen, then on its way. */
  const write = async (said) => {
    const seen = said.answers ? null : known.of(said.subject, said.field);
    const entry = await outbox.put(
      {
        who: me.who, under: me.under, evening: table.evening,
        seen: seen ? seen.id : null, also_seen: seen?.clash?.id ?? null, ...said,
      },
      seen ? seen.order_ms : 0,
    );
    known.take(entry);
    return entry;
  };

  outbox.addEventListener("change", () => showSafe(outbox));
  setInterval(() => showSafe(outbox), 5000);
  $("safe-file").addEventListener("click", async () => {
    download(`keepfast-waiting-${new Date().toISOString().slice(0, 19).replace(/[:T]/g, "-")}.json`, await outbox.file());
  });
  showSafe(outbox);
  listen(known, outbox);
  return { outbox, known, me, write };
}

/** Whether an entry is on the laptop's disk or still only here, in words. */
export function standing(outbox, entry) {
  return outbox.waitingIds.has(entry.id) ? _("on this device") : _("safe");
}

/** What people call an animal or a tray. */
export function named(about) {
  return about.name || about.number;
}

/** A number set large; long ones smaller. */
export function bigNumber(about, tag = "p") {
  const words = named(about);
  return make(tag, { class: words.length > 7 ? "number long" : words.length < 5 ? "number short" : "number" }, bdi(words));
}

/** A value as it was written, with its unit. */
export function shown(known, entry) {
  const spec = known.table.fields[entry.field];
  if (!spec) return entry.text || String(entry.value);
  if (spec.ask === "done" || spec.ask === "tag") return spec.ask === "tag" ? _("right tag") : _("done");
  const chosen = spec.choices?.find((choice) => choice.key === entry.value);
  if (chosen) return chosen.words;
  if (spec.ask === "number") return `${entry.text}\u00a0${spec.unit}`;
  return entry.text || String(entry.value);
}

export function label(known, subject, field) {
  const spec = known.table.fields[field];
  if (!spec) return field;
  const form = known.table.subjects[subject]?.form;
  return spec.words_by_form?.[form] || spec.words;
}
