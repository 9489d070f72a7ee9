// Pen: what was measured and done, one animal at a time within a round, from the keyboard alone.

import { begin, bigNumber, label, named, shown, standing } from "./page.js";
import { readNumber } from "./numbers.js";
import { moment, newId } from "./outbox.js";
import { question } from "./questions.js";
import { readSymbol } from "./symbol.js";
import { _, bdi, make, many, plain } from "./words.js";

const { outbox, known, write } = await begin();
const { table } = known;
const $ = (id) => document.getElementById(id);
let here = { round: "before", subject: null };
let rows = new Map();

const about = () => table.subjects[here.subject];
const roundOf = (key) => table.rounds.find((round) => round.key === key);
const fieldsHere = () => about().fields.filter((key) => table.fields[key].round === here.round);
const asks = (subject, round) => table.subjects[subject].fields.some((key) => table.fields[key].round === round);
const orderOf = (round) => (round === "cover" ? table.trays : known.order(round).filter((subject) => asks(subject, round)));
const draftName = (field) => `draft ${here.subject} ${field}`;

// What is being written now: a second touch or a bouncing key while the store is at work writes nothing twice.
const atWork = new Set();
async function single(name, work) {
  if (atWork.has(name)) return null;
  atWork.add(name);
  try {
    return await work();
  } finally {
    atWork.delete(name);
  }
}

// ---- where we are -------------------------------------------------------------------------------------------------

function startingPlace() {
  const [round, subject] = decodeURIComponent(location.hash.slice(1)).split("/");
  if (roundOf(round) && table.subjects[subject]) return { round, subject };
  const next = known.next();
  if (next) return { round: next.round, subject: next.subject };
  return { round: "before", subject: table.order[0] || null };
}

function go(round, subject, focusField = true) {
  const order = orderOf(round);
  here = { round, subject: order.includes(subject) ? subject : order[0] ?? null };
  history.replaceState(null, "", `#${encodeURIComponent(here.round)}/${encodeURIComponent(here.subject ?? "")}`);
  draw();
  if (focusField) focusFirstOpen();
}

function step(by) {
  const order = orderOf(here.round);
  const at = order.indexOf(here.subject) + by;
  if (at >= 0 && at < order.length) return go(here.round, order[at]);
  const rounds = table.rounds.map((round) => round.key);
  const next = rounds[rounds.indexOf(here.round) + by];
  if (!next || !orderOf(next).length) return focusFirstOpen();
  return go(next, by > 0 ? orderOf(next)[0] : orderOf(next).at(-1));
}

function closed(subject, round) {
  return known.value(subject, `round:${round}`) === true;
}

// ---- drawing ------------------------------------------------------------------------------------------------------

function drawRounds() {
  $("rounds").replaceChildren(...table.rounds.map(({ key, short }) => {
    const order = orderOf(key);
    const done = order.filter((subject) => closed(subject, key)).length;
    return make("button", {
      type: "button", "aria-current": key === here.round ? "step" : null,
      on: { click: () => go(key, order.find((subject) => !closed(subject, key)) ?? order[0]) },
    }, make("span", { text: short }), " ", make("span", { text: `${done}/${order.length}`, "aria-hidden": "true" }), make("span", { class: "unseen", text: _("{done} of {all}", { done, all: order.length }) }));
  }));
}

function planned(field) {
  const spec = table.fields[field];
  if (spec.again) {
    let last = null;
    for (const entry of known.latest.values()) {
      if (entry.field === field && entry.value && (!last || entry.order_ms > last.order_ms)) last = entry;
    }
    if (last) return { value: last.value, words: last.text, from: "again" };
  }
  const plan = about().planned[field];
  return plan && plan.value !== null && plan.value !== undefined ? { ...plan, from: "plan" } : null;
}

function plannedWords(plan) {
  if (plan.from === "again") return _("as before: {value}", { value: plain(plan.words) });
  if (plan.listed) return _("as listed: {value}", { value: plain(plan.words) });
  return _("as planned: {value}", { value: plain(plan.words) });
}

function inputFor(spec) {
  const common = { id: `f-${spec.key}`, "aria-describedby": `w-${spec.key}`, "data-field": spec.key };
  if (spec.ask === "choice") {
    return make("select", common, make("option", { value: "", text: "–" }), spec.choices.map((choice) => make("option", { value: choice.key, text: choice.words })));
  }
  return make("input", {
    ...common, type: "text", autocomplete: "off", autocapitalize: spec.ask === "tag" ? "characters" : "off", spellcheck: "false",
    inputmode: spec.ask === "number" ? "decimal" : null, enterkeyhint: "next", maxlength: spec.ask === "words" ? 500 : 40, dir: "auto",
  });
}

function drawRow(key) {
  const spec = table.fields[key];
  const row = make("div", { class: `field asks-${spec.ask}`, "data-row": key });
  const written = make("p", { class: "written", id: `w-${key}` });
  const ask = make("div", { class: "ask", hidden: true });
  const name = label(known, here.subject, key);
  if (spec.ask === "done") {
    const act = make("button", { type: "button", class: "act", id: `f-${key}`, "data-field": key, "aria-describedby": `w-${key}`, on: { click: () => enter(key) } }, `${name}: `, _("done"));
    const undo = make("button", { type: "button", class: "undo", hidden: true, on: { click: () => takeBack(key) } }, _("Take back"));
    row.append(make("span", { class: "label", "aria-hidden": "true", text: name }), act, undo, written, ask);
    rows.set(key, { spec, row, input: act, written, ask, undo });
    return row;
  }
  const input = inputFor(spec);
  const plan = planned(key);
  const entry = make("div", { class: "entry" }, input, spec.unit ? make("span", { class: "unit", text: spec.unit }) : null);
  const side = plan
    ? make("button", { type: "button", class: "plan", tabindex: "-1", "aria-label": `${name}, ${plannedWords(plan)}`, on: { click: () => asPlanned(key) } }, plannedWords(plan))
    : spec.ask === "tag" ? symbolButton(key) : null;
  row.append(make("label", { for: `f-${key}` }, name, spec.unit ? make("span", { class: "unseen", text: ` ${spec.unit}` }) : null), entry, side ?? "", written, ask);
  rows.set(key, { spec, row, input, written, ask, plan: side });
  input.addEventListener("focus", () => input.select?.());
  input.addEventListener("input", () => {
    localStorage.setItem(draftName(key), input.value);
    refresh(key);
  });
  return row;
}

function symbolButton(key) {
  const file = make("input", { type: "file", accept: "image/*", capture: "environment", class: "unseen", id: `p-${key}`, tabindex: "-1", "aria-label": _("Photograph the symbol"), on: {
    change: async () => {
      const row = rows.get(key);
      const at = here;
      row.written.textContent = _("Reading the symbol.");
      const answer = await readSymbol(file.files[0]);
      file.value = "";
      if (at !== here) return; // it was the tag of an animal that is not on the screen any more
      if (answer.problem) row.written.textContent = answer.problem;
      else await checkTag(key, answer.text, "symbol");
    },
  } });
  return make("span", { class: "plan-photo" }, file, make("button", { type: "button", class: "act", on: { click: () => file.click() } }, _("Photograph the symbol")));
}

function draw() {
  rows = new Map();
  drawRounds();
  const form = $("fields");
  if (!here.subject) {
    $("subject").replaceChildren(make("p", { class: "number long", text: here.round === "cover" ? _("No tray yet") : _("No animal yet") }));
    form.replaceChildren(make("p", { text: _("Add one below, or start with a plan.") }));
    return;
  }
  const order = orderOf(here.round);
  const at = order.indexOf(here.subject) + 1;
  $("subject").replaceChildren(
    bigNumber(about(), "h1"),
    make("div", { class: "turn" },
      make("button", { type: "button", "aria-keyshortcuts": "PageUp", on: { click: () => step(-1) } }, _("Back")),
      make("button", { type: "button", "aria-keyshortcuts": "PageDown", on: { click: () => step(1) } }, _("On"))),
    make("p", { class: "of" }, bdi(about().taxon || ""), about().taxon ? ", " : "", make("span", { class: "round", text: `${roundOf(here.round).words}, ` }), _("{done} of {all}", { done: at, all: order.length })),
  );
  const fields = fieldsHere();
  form.replaceChildren(bottleRow(fields) ?? "", ...fields.map(drawRow), make("div", { class: "field close" },
    make("button", { type: "button", class: "next act", id: "close", on: { click: closeRound } })));
  for (const key of fields) fill(key);
  refreshAll();
  document.title = `${plain(named(about()))}, ${roundOf(here.round).words}`;
  $("said").textContent = _("{number}, {round}, {at} of {all}", { number: plain(named(about())), round: roundOf(here.round).words, at, all: order.length });
}

// ---- the bottle that the fixative comes out of: named once, carried by every amount after it ---------------------------

const bottleWords = ({ name, mixed_at }) => (mixed_at ? _("{name}, mixed {when}", { name: plain(name), when: plain(mixed_at.slice(0, 16).replace("T", " ")) }) : plain(name));

function bottleRow(fields, another = false) {
  if (!fields.some((key) => table.fields[key].bottle)) return null;
  const row = make("div", { class: "field bottle", id: "bottle", "data-another": another ? "yes" : null });
  const open = known.bottle;
  const name = make("span", { class: "label", text: _("Bottle of fixative") });
  if (open && !another) {
    row.append(name, make("p", { class: "entry" }, bdi(bottleWords(open))),
      make("button", { type: "button", id: "bottle-other", on: { click: () => { row.replaceWith(bottleRow(fields, true)); $("f-bottle").focus(); } } }, _("Another bottle")));
    return row;
  }
  const enter = { autocomplete: "off", enterkeyhint: "next" };
  row.append(
    make("label", { for: "f-bottle" }, _("Bottle of fixative")),
    make("div", { class: "entry" }, make("input", { ...enter, id: "f-bottle", "data-field": "bottle", type: "text", maxlength: 60, spellcheck: "false", dir: "auto", list: "bottles", "aria-describedby": "w-bottle" }),
      make("datalist", { id: "bottles" }, Object.values(table.bottles).map((one) => make("option", { value: one.name })))),
    make("p", { class: "written", id: "w-bottle", text: _("What is written on it. Named once; every amount after it carries it.") }),
    make("label", { for: "f-bottle_mixed" }, _("Mixed, if known")),
    make("div", { class: "entry" }, make("input", { ...enter, id: "f-bottle_mixed", "data-field": "bottle_mixed", type: "datetime-local" })),
    make("button", { type: "button", id: "bottle-this", on: { click: nameBottle } }, _("This bottle")),
  );
  return row;
}

/** Enter on the name of a bottle that is known opens it; a new one is asked when it was mixed. */
async function enterBottle(key) {
  const name = plain($("f-bottle").value.trim());
  if (key === "bottle" && name && !bottleNamed(name)) return $("f-bottle_mixed").focus();
  return name ? nameBottle() : rows.get(fieldsHere()[0]).input.focus();
}

const bottleNamed = (name) => Object.entries(table.bottles).findLast(([, one]) => squeezed(one.name) === squeezed(name));

const nameBottle = () => single("bottle", async () => {
  const at = here;
  const name = plain($("f-bottle").value.trim());
  if (!name) return $("f-bottle").focus();
  const mixed = $("f-bottle_mixed").value;
  let [id] = bottleNamed(name) ?? [];
  try {
    if (!id) {
      id = newId();
      await write({ id, subject: id, field: "new_batch", value: name, text: name, number: name, mixed_at: mixed ? moment(new Date(mixed)) : "" });
    }
    await write({ subject: "session", field: "bottle", value: id, text: name });
  } catch {
    $("w-bottle").textContent = notKept();
    return null;
  }
  if (at !== here) return refreshAll();
  $("bottle").replaceWith(bottleRow(fieldsHere()));
  refreshAll();
  return focusFirstOpen();
});

/** Another pen may have named it meanwhile; what is being typed here is left alone. */
function renewBottle() {
  const row = $("bottle");
  if (!row || row.dataset.another || $("f-bottle")?.value) return;
  const fresh = bottleRow(fieldsHere());
  if (row.textContent === fresh.textContent) return;
  const here = row.contains(document.activeElement);
  row.replaceWith(fresh);
  if (here) focusFirstOpen();
}

const notKept = () => _("This could not be kept on this device: its store is full or shut. It is not written; note it on paper.");

/** Put into the input what is written already, or a draft from before a reload. */
function fill(key) {
  const { spec, input } = rows.get(key);
  if (spec.ask === "done") return;
  const draft = localStorage.getItem(draftName(key));
  const entry = known.of(here.subject, key);
  if (draft !== null) input.value = draft;
  else if (entry && entry.value !== null && !spec.repeats && spec.ask !== "tag") input.value = spec.ask === "choice" ? entry.value : entry.text;
  else input.value = "";
}

function refresh(key) {
  const row = rows.get(key);
  if (!row) return;
  const entry = known.of(here.subject, key);
  const { written, ask, undo, plan } = row;
  const has = entry && entry.value !== null && entry.value !== false;
  const parts = [];
  if (has) {
    const time = new Date(entry.at).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    parts.push(bdi(shown(known, entry)), entry.as_planned ? `, ${about().planned[key]?.listed ? _("as listed") : _("as planned")}` : "", `: ${standing(outbox, entry)}, ${time}, `, bdi(entry.who), entry.batch && table.bottles[entry.batch] ? `, ${_("bottle {name}", { name: plain(table.bottles[entry.batch].name) })}` : "");
  } else if (row.spec.help) parts.push(row.spec.help);
  if (!has && row.spec.ask !== "done" && row.input.value !== "") parts.push(parts.length ? " " : "", make("b", { text: _("Not written yet: Enter writes it.") }));
  written.replaceChildren(...parts);
  if (undo) undo.hidden = !has;
  if (plan && plan.classList.contains("plan")) plan.hidden = Boolean(has) && !row.spec.repeats;
  drawQuestion(key, entry, ask);
}

function refreshAll() {
  for (const key of rows.keys()) refresh(key);
  renewBottle();
  drawClose();
  drawLast();
  drawHands();
}

function drawClose() {
  const button = $("close");
  if (!button || !here.subject) return;
  const open = fieldsHere().filter((key) => known.value(here.subject, key) === null && !optional(key)).length;
  const order = orderOf(here.round);
  const next = order[order.indexOf(here.subject) + 1];
  const number = plain(named(about()));
  const words = closed(here.subject, here.round)
    ? _("{number} is done in this round", { number })
    : open ? many("{number} done here, {n} field open", "{number} done here, {n} fields open", open, { number }) : _("{number} done here", { number });
  button.textContent = next ? `${words}. ${_("Next: {number}", { number: plain(named(table.subjects[next])) })}` : `${words}. ${_("Next round")}`;
}

const optional = (key) => ["remark", "temperature_c"].includes(key);

function drawQuestion(key, entry, box) {
  const answered = entry && known.answers.has(entry.id);
  const asked = entry && (entry.asked || entry.clash) && !answered && entry.value !== null;
  if (!asked) { box.hidden = true; box.replaceChildren(); return; }
  if (!box.hidden && box.dataset.of === entry.id) return;
  box.dataset.of = entry.id;
  box.hidden = false;
  const words = entry.clash
    ? _("Two pens differ: {one} by {who}, {other} by {whom}. Write the right one, or keep this with a reason.", {
        one: plain(entry.text), who: plain(entry.who), other: plain(entry.clash.text), whom: plain(entry.clash.who) })
    : entry.asked_words || entry.asked;
  const reason = make("input", { type: "text", id: `r-${key}`, maxlength: 200, autocomplete: "off", enterkeyhint: "done", dir: "auto" });
  const keep = () => single(`keep ${entry.id}`, async () => {
    if (!reason.value.trim()) { reason.focus(); return; }
    const at = here;
    await write({ subject: here.subject, field: key, answers: entry.id, value: entry.value, text: plain(reason.value.trim()), asked: entry.clash ? "two_pens" : entry.asked });
    if (at === here) forward(key);
  });
  reason.addEventListener("keydown", (event) => {
    if (event.key === "Enter") { event.preventDefault(); event.stopPropagation(); keep(); }
    if (event.key === "Escape") { event.preventDefault(); rows.get(key).input.focus(); }
  });
  box.replaceChildren(
    make("p", { id: `q-${key}`, role: "alert", text: words }),
    make("label", { for: `r-${key}` }, _("It is right, because")),
    reason,
    make("div", { class: "row" },
      make("button", { type: "button", on: { click: keep } }, _("Keep it")),
      make("button", { type: "button", on: { click: () => rows.get(key).input.focus() } }, _("Write it again"))),
  );
}

function drawLast() {
  const entry = known.last;
  $("last").hidden = !entry || !table.subjects[entry.subject];
  if ($("last").hidden) return;
  $("last-words").replaceChildren(make("span", { class: "more", text: _("Last: ") }), bdi(named(table.subjects[entry.subject])), `, ${label(known, entry.subject, entry.field)} `,
    make("span", { class: "value" }, bdi(entry.value === null || entry.value === false ? _("taken back") : shown(known, entry))), make("span", { class: "more", text: `, ${standing(outbox, entry)}` }));
}

function drawHands() {
  const next = known.next();
  const away = next && (next.subject !== here.subject || next.round !== here.round);
  $("follow").hidden = !away;
  if (away) $("follow").replaceChildren(_("Hands are at "), bdi(named(table.subjects[next.subject])), `, ${roundOf(next.round).words}`);
}

// ---- moving about -------------------------------------------------------------------------------------------------

function stops() {
  return [...$("fields").querySelectorAll("[data-field], #close")];
}

function focusFirstOpen() {
  if ($("f-bottle")) return $("f-bottle").focus();
  const open = fieldsHere().find((key) => known.value(here.subject, key) === null);
  return (open ? rows.get(open).input : $("close"))?.focus();
}

function forward(key) {
  refreshAll();
  const all = stops();
  const at = all.indexOf(rows.get(key).input);
  all[at + 1]?.focus();
}

/** The head and the foot lie over the page: what has the focus, and its name, is brought out from under them. */
function inSight(element) {
  const name = element.closest(".field")?.querySelector("label, .label");
  for (let turn = 0; turn < 4; turn += 1) {
    const box = element.getBoundingClientRect();
    const head = document.querySelector(".subject").getBoundingClientRect().bottom + 6;
    const foot = document.querySelector(".foot").getBoundingClientRect().top - 6;
    const named = Math.min(box.top, name?.getBoundingClientRect().top ?? box.top);
    const top = box.bottom - named <= foot - head ? named : box.top;
    if (top < head - 1) scrollBy(0, top - head);
    else if (box.bottom > foot + 1 && top > head + 1) scrollBy(0, Math.min(box.bottom - foot, top - head));
    else return;
  }
}

// ---- writing ------------------------------------------------------------------------------------------------------

const put = (key, said) => single(draftName(key), async () => {
  const at = here;
  const draft = draftName(key);
  const before = known.of(here.subject, key);
  const spec = table.fields[key];
  const asked = question(known, here.subject, key, said.value);
  const corrects = before && !spec.repeats ? before.root || before.id : null;
  // An amount that is put right came out of the bottle that it came out of.
  const batch = spec.bottle ? before?.batch || known.bottle?.id || null : null;
  let entry;
  try {
    entry = await write({
      subject: here.subject, field: key, corrects, batch, ...said, text: plain(said.text),
      asked: asked ? asked.key : null, asked_words: asked ? asked.words : null, root: corrects,
    });
  } catch {
    if (at !== here) go(at.round, at.subject);
    rows.get(key).written.textContent = notKept();
    return null;
  }
  localStorage.removeItem(draft);
  refreshAll();
  if (at !== here) return entry; // the hand has gone on to another animal meanwhile
  if (spec.repeats) rows.get(key).input.value = "";
  if (asked) document.getElementById(`r-${key}`)?.focus();
  else forward(key);
  return entry;
});

async function asPlanned(key) {
  const plan = planned(key);
  const { input, spec } = rows.get(key);
  if (spec.ask === "place") return putPlace(key, plan.words, true);
  input.value = spec.ask === "choice" ? plan.value : plan.words;
  return put(key, { value: plan.value, text: plan.words, as_planned: plan.from === "plan" });
}

const takeBack = (key) => single(draftName(key), async () => {
  const entry = known.of(here.subject, key);
  if (!entry || entry.value === null) return;
  const at = here;
  await write({ subject: here.subject, field: key, value: null, text: "", corrects: entry.root || entry.id, root: entry.root || entry.id });
  refreshAll();
  if (at === here) rows.get(key).input.focus();
});

async function enter(key) {
  if (key === "bottle" || key === "bottle_mixed") return enterBottle(key);
  const { spec, input, written } = rows.get(key);
  const before = known.of(here.subject, key);
  const has = before && before.value !== null && before.value !== false;
  if (spec.ask === "done") return has ? forward(key) : put(key, { value: true, text: "" });
  const typed = input.value.trim();
  if (!typed) {
    if (has && !spec.repeats && spec.ask !== "tag") return takeBack(key);
    if (!has && planned(key)) return asPlanned(key);
    return forward(key);
  }
  if (spec.ask === "tag") return checkTag(key, typed, "typed");
  if (spec.ask === "choice") return has && before.value === typed ? forward(key) : put(key, { value: typed, text: typed });
  if (has && !spec.repeats && before.text === plain(typed)) { localStorage.removeItem(draftName(key)); return forward(key); }
  if (spec.ask === "words") return put(key, { value: plain(typed), text: typed });
  if (spec.ask === "place") return putPlace(key, typed, false);
  const { value, problem } = readNumber(typed);
  if (problem) {
    written.replaceChildren(make("b", { text: problem }));
    input.select();
    return null;
  }
  return put(key, { value, text: typed });
}

async function putPlace(key, typed, as_planned) {
  const found = typed.match(/^(\d{1,3})\D+(\d{1,3})$/);
  const row = rows.get(key);
  if (!found) {
    row.written.replaceChildren(make("b", { text: _("Tray, then place, with a space between: 1 4") }));
    return null;
  }
  const [, tray, place] = found.map(Number);
  let id = table.trays.find((one) => table.subjects[one].number === String(tray));
  if (!id) {
    // A tray nobody planned comes to be with its first animal.
    id = newId();
    await write({ id, subject: id, field: "new_tray", value: String(tray), text: String(tray), number: String(tray) });
  }
  row.input.value = `${tray} ${place}`;
  return put(key, { value: `${tray} ${place}`, text: `${tray} ${place}`, tray: id, as_planned });
}

const squeezed = (text) => text.toUpperCase().replace(/[\s-]/g, "");

/** The tag in hand against the animal on the screen. */
async function checkTag(key, text, how) {
  const given = squeezed(text);
  const fits = (one) => {
    const number = squeezed(one.number);
    return one.check
      ? given === `${number}${one.check}` || (one === about() && given === one.check) || (how === "symbol" && given === number)
      : given === number;
  };
  const row = rows.get(key);
  if (fits(about())) return put(key, { value: true, text, how });
  const other = table.order.map((subject) => table.subjects[subject]).find(fits);
  row.written.replaceChildren(make("b", {}, _("That is not the tag of "), bdi(about().number), ". ", other ? _("It belongs to ") : _("Look at the tag again."), other ? bdi(other.number) : ""),
    other ? make("button", { type: "button", on: { click: () => go(here.round, other.subject) } }, _("Go there")) : "");
  row.input.select();
  return null;
}

const closeRound = () => single("close", async () => {
  const at = here;
  if (!closed(here.subject, here.round)) {
    await write({ subject: here.subject, field: `round:${here.round}`, value: true, text: "" });
  }
  if (at === here) step(1);
});

// ---- a new animal -------------------------------------------------------------------------------------------------

async function fillBlock() {
  // Numbers are set aside for this device while the laptop is in reach, so that it has some when it is not.
  const block = (await outbox.kept(outbox.blockName)) || [];
  if (block.length < 3) {
    try {
      const response = await fetch("/api/numbers", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ device: outbox.device, count: 5 }) });
      if (response.ok) await outbox.keep(outbox.blockName, [...block, ...(await response.json()).numbers]);
    } catch { /* the next try comes with the next animal */ }
  }
  const ready = (await outbox.kept(outbox.blockName)) || [];
  $("new-number").placeholder = ready.length ? _("next free: {number}", { number: ready[0].number }) : "";
  $("new-none").hidden = ready.length > 0;
}

async function addAnimal() {
  const typed = plain($("new-number").value.trim());
  const block = (await outbox.kept(outbox.blockName)) || [];
  const own = typed ? null : block[0];
  const number = typed || own?.number;
  if (!number) { $("new-none").hidden = false; $("new-number").focus(); return; }
  const twin = table.known_numbers.includes(squeezed(number)) || table.order.some((one) => squeezed(table.subjects[one].number) === squeezed(number));
  if (twin && !$("new-reason").value.trim()) {
    $("new-twin").hidden = false;
    $("new-reason").focus();
    return;
  }
  const id = newId();
  if (own) await outbox.keep(outbox.blockName, block.slice(1));
  await write({
    id, subject: id, field: "animal", number, value: $("new-form").value, text: plain($("new-taxon").value.trim()), check: own?.check || null,
    asked: twin ? "second_with_number" : null, asked_words: twin ? _("A second animal has this number.") : null,
  });
  if (twin) await write({ subject: id, field: "animal", answers: id, value: $("new-form").value, text: plain($("new-reason").value.trim()), asked: "second_with_number" });
  $("new-animal").reset();
  $("new-twin").hidden = true;
  $("new").open = false;
  fillBlock();
  go("before", id);
}

// ---- keys and events ----------------------------------------------------------------------------------------------

/** Fields that have a use of their own for the arrows. */
const own = (input) => input.tagName === "SELECT" || input.type === "datetime-local";

$("fields").addEventListener("submit", (event) => event.preventDefault());
$("fields").addEventListener("keydown", (event) => {
  const field = event.target.dataset?.field;
  if (!field || event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
  const all = stops();
  const at = all.indexOf(event.target);
  if (event.key === "Enter") {
    event.preventDefault();
    if (!event.repeat) enter(field);
  } else if (event.key === "ArrowUp" && !own(event.target)) {
    event.preventDefault();
    all[at - 1]?.focus();
  } else if (event.key === "ArrowDown" && !own(event.target)) {
    event.preventDefault();
    all[at + 1]?.focus();
  }
});
$("main").addEventListener("focusin", (event) => { if (!event.target.closest(".subject")) inSight(event.target); });
document.addEventListener("keydown", (event) => {
  if (event.key === "PageDown") { event.preventDefault(); step(1); }
  else if (event.key === "PageUp") { event.preventDefault(); step(-1); }
  else if (event.key === "F2") { event.preventDefault(); correctLast(); }
});

function correctLast() {
  const entry = known.last;
  if (!entry) return;
  const round = table.fields[entry.field]?.round || "before";
  go(round, entry.subject, false);
  const input = rows.get(entry.field)?.input;
  input?.focus();
  input?.select?.();
}

$("correct").addEventListener("click", correctLast);
$("follow").addEventListener("click", () => { const next = known.next(); if (next) go(next.round, next.subject); });
$("find").addEventListener("submit", (event) => {
  event.preventDefault();
  const wanted = squeezed($("find-number").value);
  const found = [...table.order, ...table.trays].map((one) => table.subjects[one]).filter((one) => squeezed(one.number) === wanted || squeezed(one.number + (one.check || "")) === wanted);
  $("find-none").hidden = found.length > 0;
  if (found.length) { $("find-number").value = ""; go(table.trays.includes(found[0].subject) ? "cover" : here.round, found[0].subject); }
});
$("new-animal").addEventListener("submit", (event) => { event.preventDefault(); single("animal", addAnimal); });
$("new-cancel").addEventListener("click", () => { $("new-twin").hidden = true; $("new").open = false; $("new-number").value = ""; focusFirstOpen(); });
outbox.addEventListener("change", refreshAll);
known.addEventListener("renewed", () => {
  drawRounds();
  for (const [key, { input }] of rows) {
    if (document.activeElement !== input && localStorage.getItem(draftName(key)) === null) fill(key);
  }
  refreshAll();
});
known.addEventListener("entry", (event) => {
  const entry = event.detail;
  if (entry.subject === here.subject && rows.has(entry.field)) {
    const { input } = rows.get(entry.field);
    if (document.activeElement !== input && localStorage.getItem(draftName(entry.field)) === null) fill(entry.field);
  }
  if (/^(round|later):|^animal$|^new_tray$/.test(entry.field)) drawRounds();
  refreshAll();
});

const start = startingPlace();
go(start.round, start.subject);
fillBlock();
document.documentElement.dataset.ready = "yes";
