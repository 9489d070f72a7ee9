// Table: the whole table at a glance, drawn by the laptop and fetched again when something changes.

import { begin } from "./page.js";
import { readNumber } from "./numbers.js";
import { question } from "./questions.js";
import { _, make, plain } from "./words.js";

const { known, write } = await begin();
const $ = (id) => document.getElementById(id);
let timer = null;

async function draw() {
  clearTimeout(timer);
  timer = setTimeout(draw, 15000);
  try {
    const response = await fetch("/table/now", { cache: "no-store" });
    if (!response.ok) return;
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    $("table-now").replaceChildren(...page.body.childNodes);
    const time = new Date().toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    $("as-of").textContent = _("As of {time}", { time });
  } catch { /* the line below says that the laptop is out of reach */ }
}

function soon() {
  clearTimeout(timer);
  timer = setTimeout(draw, 250);
}

$("reading").addEventListener("submit", async (event) => {
  event.preventDefault();
  const { value, problem } = readNumber($("reading-c").value.trim());
  if (problem) { $("reading-said").textContent = problem; return; }
  const subject = $("reading-tray").value;
  const asked = question(known, subject, "temperature_c", value);
  if (asked && $("reading-said").dataset.asked !== String(value)) {
    $("reading-said").dataset.asked = String(value);
    $("reading-said").textContent = `${asked.words} ${_("Once more to keep it.")}`;
    return;
  }
  await write({ subject, field: "temperature_c", value, text: plain($("reading-c").value.trim()), asked: asked?.key ?? null, asked_words: asked?.words ?? null });
  $("reading-said").textContent = "";
  $("reading-c").value = "";
});
/** Trays that came to be after this page was opened can be read at too. */
function trays() {
  const select = $("reading-tray");
  for (const tray of known.table.trays) {
    if (![...select.options].some((option) => option.value === tray)) select.append(make("option", { value: tray, text: known.table.subjects[tray].number }));
  }
}

for (const event of ["entry", "renewed"]) known.addEventListener(event, () => { trays(); soon(); });
trays();
draw();
document.documentElement.dataset.ready = "yes";
