// Hands: one animal, one thing to do. Any key or any touch says that it is done; nothing is typed.

import { begin, bigNumber, label, named, shown } from "./page.js";
import { isWritten } from "./known.js";
import { _, bdi, make, many } from "./words.js";

const REST_MS = 450; // a double tap, or a pedal that bounces, counts once
const BACK = new Set(["ArrowLeft", "ArrowUp", "PageUp", "Backspace"]);
const NEVER = new Set(["Tab", "Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock", "NumLock", "ScrollLock", "Escape", "ContextMenu", "Fn", "OS", "Dead", "Unidentified"]);

const { outbox, known, me, write } = await begin();
const $ = (id) => document.getElementById(id);
let shownKey = "";
let lastMove = -Infinity;
let busy = false;
let reading = false;
let lay = fit; // lays out what is shown, again when there is more or less room
let alone = 0; // so many sentences of a caution are shown by themselves
const alreadyRead = new Map();
const pictures = new Map();

/** The drawing of a move, fetched once and kept; after that the laptop may be away. */
async function picture(address) {
  if (!pictures.has(address)) {
    pictures.set(address, (async () => {
      const response = await fetch(address);
      if (!response.ok) throw new Error(String(response.status));
      return new DOMParser().parseFromString(await response.text(), "image/svg+xml").documentElement;
    })().catch(() => { pictures.delete(address); return null; }));
  }
  const found = await pictures.get(address);
  return found ? document.importNode(found, true) : null;
}

function fetchAhead() {
  // What comes next in this round is fetched before it is needed.
  const next = known.next();
  if (!next) return;
  for (const subject of known.order(next.round)) {
    for (const move of known.table.subjects[subject].moves) {
      if (move.drawing && !known.moved(subject, move)) picture(move.drawing);
    }
  }
}

function speak(text) {
  if (!reading || !("speechSynthesis" in window)) return;
  speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(text);
  words.lang = document.documentElement.lang;
  words.rate = 0.95;
  speechSynthesis.speak(words);
}

/** All of a step is in sight: its words shrink to what is legible, and only then the drawing gives way. Tells whether it is. */
function fit() {
  const now = $("main");
  now.classList.remove("tight", "bare");
  for (const share of [1, 0.9, 0.8, 0.7, 0.6, 0.5]) {
    now.style.setProperty("--fit", share);
    now.classList.toggle("tight", share < 0.85);
    if (now.scrollHeight <= now.clientHeight + 1) return true;
  }
  now.classList.add("bare");
  return now.scrollHeight <= now.clientHeight + 1;
}

/** A step with its caution; a caution that leaves the step no room is read first, by itself, as much at a time as is in sight. */
function layStep(key, who, step, move, drawing) {
  const sentences = move.caution ? move.caution.split(/(?<=[.!?]) (?=\p{Lu})/u) : [];
  const left = sentences.slice(alreadyRead.get(key) || 0);
  const caution = (words, kind) => make("p", { class: kind, text: words.join(" ") });
  alone = 0;
  $("main").replaceChildren(who, make("div", { class: "do" }, step, left.length ? caution(left, "caution") : null), drawing);
  if (!fit() && left.length) {
    for (alone = left.length; ; alone -= 1) {
      $("main").replaceChildren(who, make("div", { class: "do" }, caution(left.slice(0, alone), "caution alone")));
      if (fit() || alone === 1) break;
    }
  }
  $("go").textContent = alone ? _("Read") : _("Done");
}

function draw() {
  const next = known.next();
  const paused = known.paused;
  const ended = known.ended;
  const key = ended ? "ended" : paused ? "paused" : next ? `${next.subject}/${next.move.key}` : "end";
  $("hands-pause").textContent = paused ? _("Resume") : _("Pause");
  if (!alone || key !== shownKey) $("go").textContent = paused ? _("Resume") : _("Done");
  $("go").hidden = Boolean(ended) || (!paused && !next);
  $("back").hidden = $("hands-pause").hidden = Boolean(ended);
  $("later").hidden = Boolean(paused || ended) || !next;
  if (key === shownKey) return;
  shownKey = key;
  alone = 0;
  const rest = (where, word, words) => {
    lay = fit;
    $("where").textContent = where;
    $("main").replaceChildren(make("div", { class: "who" }, make("h1", { class: "number long", text: word })), make("div", { class: "do" }, make("p", { class: "what", text: words })));
    $("said").textContent = `${word}. ${words}`;
    fit();
  };
  if (ended) return rest("", _("Good night"), _("The evening is ended. It can be taken up again on Evening."));
  if (paused) return rest(_("Paused"), _("Paused"), _("Bottles shut, animals covered. Any key goes on."));
  if (!next) return rest("", _("All done"), _("Every animal and every tray is done. The check of the evening comes next."));
  const about = known.table.subjects[next.subject];
  const { move } = next;
  const round = known.table.rounds.find((one) => one.key === next.round).words;
  $("where").textContent = _("{round}, {place} of {places}; step {step} of {steps}", { ...next, round });
  const drawing = make("div", { class: "drawing", role: "img", "aria-label": move.drawn || named(about) });
  drawing.hidden = !move.drawing;
  const who = make("div", { class: "who" }, bigNumber(about, "h1"), make("p", { class: "taxon" }, bdi(about.taxon || "")));
  const step = [
    make("p", { class: "what", text: move.what }),
    move.amount ? make("p", { class: "amount" }, move.amount, make("span", { class: "unit", text: ` ${move.unit}` })) : null,
    move.at ? make("p", { class: "at", text: move.at }) : null,
  ];
  lay = () => layStep(key, who, step, move, drawing);
  if (move.drawing) picture(move.drawing).then((svg) => { if (svg) drawing.replaceChildren(svg); else drawing.hidden = true; if (shownKey === key) lay(); });
  lay();
  $("said").textContent = [named(about), move.what, move.amount ? `${move.amount} ${move.unit}` : "", move.at, move.caution].filter(Boolean).join(". ");
  speak($("said").textContent);
}

function hear(entry) {
  if (!isWritten(entry) || !known.table.subjects[entry.subject] || entry.value === null) return;
  const asked = entry.asked && !known.answers.has(entry.id);
  $("heard").hidden = false;
  $("heard-what").replaceChildren(bdi(named(known.table.subjects[entry.subject])), `, ${label(known, entry.subject, entry.field)}${asked ? `, ${_("asked back")}` : ""}`);
  $("heard-value").replaceChildren(bdi(shown(known, entry)));
  lay();
}

/** Do it once: a second touch right after the first one, by the moments of the touches and not of our hearing them. */
async function once(event, work) {
  if (busy || event.timeStamp - lastMove < REST_MS) return;
  lastMove = event.timeStamp;
  busy = true;
  try {
    await work();
  } catch {
    $("safe-words").textContent = _("This could not be kept on this device. It has not been counted as done.");
  } finally {
    busy = false;
    draw();
  }
}

const advance = (event) => once(event, async () => {
  if (known.ended) return null;
  if (known.paused) return write({ subject: "session", field: "pause", value: false });
  const next = known.next();
  if (!next) return null;
  if (alone) {
    alreadyRead.set(shownKey, (alreadyRead.get(shownKey) || 0) + alone);
    return lay();
  }
  return write({ subject: next.subject, field: `move:${next.move.key}`, value: true });
});

const back = (event) => once(event, async () => {
  const last = known.previous();
  if (!last) return null;
  return write({ subject: last.subject, field: last.field, value: false, corrects: last.root || last.id });
});

const later = (event) => once(event, async () => {
  const next = known.next();
  return next && next.round !== "cover" ? write({ subject: next.subject, field: `later:${next.round}`, value: true }) : null;
});

document.addEventListener("keydown", (event) => {
  if (event.repeat || event.ctrlKey || event.altKey || event.metaKey || NEVER.has(event.key) || /^F\d+$/.test(event.key) || /^(Audio|Media|Volume|Browser|Launch)/.test(event.key)) return;
  // Whoever has walked to a button or the menu by Tab means that one.
  if (event.target.closest("a, button:not(#go), summary, .menu") && (event.key === "Enter" || event.key === " ")) return;
  event.preventDefault();
  if (BACK.has(event.key)) back(event);
  else advance(event);
});
document.addEventListener("click", (event) => {
  if (event.target.closest("a, button, summary, .menu, .safe")) return;
  if ($("menu").open) { $("menu").open = false; return; }
  advance(event);
});
$("go").addEventListener("click", advance);
$("back").addEventListener("click", back);
$("later").addEventListener("click", (event) => { $("menu").open = false; later(event); });
$("hands-pause").addEventListener("click", (event) => {
  $("menu").open = false;
  once(event, () => write({ subject: "session", field: "pause", value: !known.paused }));
});
$("read-aloud").addEventListener("click", () => {
  reading = !reading;
  $("read-aloud").setAttribute("aria-pressed", String(reading));
  $("read-aloud").textContent = reading ? _("Reading aloud: on") : _("Reading aloud: off");
  if (reading) speak($("said").textContent);
});
$("read-aloud").hidden = !("speechSynthesis" in window);
known.addEventListener("renewed", () => { shownKey = ""; if (known.last) hear(known.last); draw(); fetchAhead(); });
known.addEventListener("entry", (event) => { hear(event.detail); draw(); });
draw();
fetchAhead();
setInterval(fetchAhead, 20000);
new ResizeObserver(() => lay()).observe($("main"));
document.fonts?.ready.then(() => lay());
if (known.last) hear(known.last);
document.documentElement.dataset.ready = "yes";
