// Evening: pause, hand over, the check, the signature, the copy on a stick.

import { begin } from "./page.js";
import { _, many, plain } from "./words.js";

const { outbox, known, me, write } = await begin();
const $ = (id) => document.getElementById(id);
let timer = null;

async function draw() {
  clearTimeout(timer);
  timer = setTimeout(draw, 20000);
  $("pause").textContent = known.paused ? _("Resume") : _("Pause");
  $("end-go").textContent = known.ended ? _("Take the evening up again") : _("End the evening");
  if (known.ended) $("end-open").hidden = true;
  try {
    const response = await fetch("/evening/now", { cache: "no-store" });
    if (!response.ok) return;
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    $("evening-now").replaceChildren(...page.body.childNodes);
  } catch { /* the line below says that the laptop is out of reach */ }
}

function soon() {
  clearTimeout(timer);
  timer = setTimeout(draw, 250);
}

async function ask(address, body, place) {
  place.textContent = _("One moment.");
  try {
    const response = await fetch(address, { method: "POST", headers: { "content-type": "application/json" }, body });
    const answer = await response.json();
    place.textContent = answer.words || _("This was not done.");
    return response.ok ? answer : null;
  } catch {
    place.textContent = _("The laptop is out of reach. Nothing was done.");
    return null;
  }
}

// A double tap on a button that turns something round would turn it back at once.
const REST_MS = 450;
const lastTouch = new Map();
const again = ({ currentTarget, timeStamp }) => {
  const soonAfter = timeStamp - (lastTouch.get(currentTarget) ?? -Infinity) < REST_MS;
  lastTouch.set(currentTarget, timeStamp);
  return soonAfter;
};

$("pause").addEventListener("click", (event) => (again(event) ? null : write({ subject: "session", field: "pause", value: !known.paused, text: "" })));
$("me-who").value = me.who;
$("me-under").value = me.under;
$("handover").addEventListener("submit", async (event) => {
  event.preventDefault();
  if (again(event)) return;
  me.who = plain($("me-who").value.trim()) || me.who;
  me.under = plain($("me-under").value.trim());
  await outbox.keep("who", me.who);
  await outbox.keep("under", me.under);
  await write({ subject: "session", field: "handed_over", value: me.who, text: me.who });
  $("handover-said").textContent = me.under
    ? _("From here on this device writes for {who}, under the eyes of {under}.", me)
    : _("From here on this device writes for {who}.", me);
});
$("sign").addEventListener("submit", async (event) => {
  event.preventDefault();
  const name = plain($("sign-name").value.trim());
  if (!name) { $("sign-name").focus(); return; }
  if (again(event)) return;
  await write({ subject: "session", field: "signed", value: name, text: plain($("sign-words").value.trim()) });
  $("sign-said").textContent = _("Signed by {name}.", { name });
});
$("end").addEventListener("submit", async (event) => {
  event.preventDefault();
  if (known.ended) {
    if (again(event)) return null;
    await write({ subject: "session", field: "ended", value: false, text: "" });
    $("end-said").textContent = _("The evening goes on.");
    return draw();
  }
  const open = Number(document.querySelector("#evening-now [data-open]")?.dataset.open || 0);
  const why = plain($("end-why").value.trim());
  if (open && !why) {
    $("end-open").hidden = false;
    $("end-words").textContent = many("{n} thing is open in the check above. It is printed with the reason.", "{n} things are open in the check above. They are printed with the reason.", open);
    return $("end-why").focus();
  }
  if (again(event)) return null;
  await write({ subject: "session", field: "ended", value: true, text: open ? why : "" });
  $("end-said").textContent = outbox.state.waiting
    ? _("Ended here. Leave this page open until nothing waits any more.")
    : _("Ended. The laptop may be shut down when every device says that none waits.");
  return draw();
});
for (const button of document.querySelectorAll("[data-stick]")) {
  button.addEventListener("click", () => ask("/api/stick", JSON.stringify({ stick: button.dataset.stick }), $("stick-said")));
}
$("take-in").addEventListener("change", async () => {
  const file = $("take-in").files[0];
  if (file && (await ask("/api/take-in", await file.text(), $("take-in-said")))) soon();
  $("take-in").value = "";
});
known.addEventListener("entry", soon);
known.addEventListener("renewed", soon);
outbox.addEventListener("stored", soon);
draw();
document.documentElement.dataset.ready = "yes";
