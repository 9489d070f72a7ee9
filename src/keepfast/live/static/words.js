// The words of the screens in the language of this device; the server lays the catalogue into the page.

const block = document.getElementById("words");
const catalogue = block ? JSON.parse(block.textContent) : {};

/** The message in the language of this device, with {names} filled in. */
export function _(message, values = {}) {
  const text = catalogue[message] || message;
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

/** The message for a count: one, or any other number. */
export function many(one, other, count, values = {}) {
  return _(count === 1 ? one : other, { n: count, ...values });
}

/** A stretch of time in words, coarse enough to be read at a glance. */
export function ago(milliseconds) {
  const seconds = Math.max(0, Math.round(milliseconds / 1000));
  if (seconds < 90) return many("{n} second", "{n} seconds", seconds);
  const minutes = Math.round(seconds / 60);
  if (minutes < 90) return many("{n} minute", "{n} minutes", minutes);
  return many("{n} hour", "{n} hours", Math.round(minutes / 60));
}

const CONTROL = /[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]/g;

/** Text that cannot play tricks: what has no shape of its own, or turns the line round, is shown by its code. */
export function plain(text) {
  return String(text).replace(CONTROL, (sign) => `[U+${sign.charCodeAt(0).toString(16).toUpperCase().padStart(4, "0")}]`);
}

/** An element with text and children; text goes in as text, never as markup. */
export function make(tag, options = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(options)) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "class") element.className = value;
    else if (name === "on") for (const [event, work] of Object.entries(value)) element.addEventListener(event, work);
    else if (name === "text") element.textContent = plain(value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat()) if (child !== null && child !== undefined && child !== "") element.append(child);
  return element;
}

/** Text that keeps its own direction to itself. */
export function bdi(text) {
  return make("bdi", { text });
}
