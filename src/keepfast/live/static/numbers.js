// Numbers as people type them: a decimal comma or a decimal point, nothing else.

import { _ } from "./words.js";

const NUMBER = /^[+-]?(\d{1,9}([.,]\d{0,6})?|[.,]\d{1,6})$/;

/** What was typed as a number, or the reason why it cannot be one. */
export function readNumber(text) {
  const typed = text.replace(/[\s\u00a0\u202f]/g, "");
  if (!NUMBER.test(typed)) {
    const marks = (typed.match(/[.,]/g) || []).length;
    return {
      problem:
        marks > 1
          ? _("Write one comma or one point at most, and no mark between thousands.")
          : _("Write figures only; the unit is already there."),
    };
  }
  return { value: Number(typed.replace(",", ".")) };
}

/** Whether two numbers have the same figures in another order, as 83 and 38. */
export function swapped(one, other) {
  const figures = (value) => String(value).replace(/\D/g, "").split("").sort().join("");
  return one !== other && figures(one).length > 1 && figures(one) === figures(other);
}

/** Whether one is the other with the decimal mark moved by one, two or three places. */
export function shifted(one, other) {
  if (!(one > 0) || !(other > 0)) return false;
  const power = Math.log10(one / other);
  return Math.round(power) !== 0 && Math.abs(Math.round(power)) <= 3 && Math.abs(power - Math.round(power)) < 0.03;
}
