// Numbers that do not fit ask back at once, gently. Every limit here comes from the laptop; nothing is computed twice.

import { _ } from "./words.js";
import { shifted, swapped } from "./numbers.js";

function between(grid, length) {
  // Limits of mass were computed on the laptop for a row of lengths; between two of them on logarithmic scales.
  for (let i = 1; i < grid.length; i += 1) {
    const [a, b] = [grid[i - 1], grid[i]];
    if (length >= a[0] && length <= b[0]) {
      const t = Math.log(length / a[0]) / Math.log(b[0] / a[0]);
      return [1, 2].map((k) => Math.exp(Math.log(a[k]) * (1 - t) + Math.log(b[k]) * t));
    }
  }
  return null;
}

const short = (value) => String(Number(value.toPrecision(2)));

/** The question a new value calls up, as {key, words}, or null. */
export function question(known, subject, field, value) {
  const about = known.table.subjects[subject];
  const spec = known.table.fields[field];
  const other = (name) => known.value(subject, name) ?? about.planned[name]?.value ?? null;
  const unit = spec.unit ? ` ${spec.unit}` : "";

  if (field === "tissue" && known.of(subject, "delivered_ml")) {
    return { key: "tissue_after_fixative", words: _("Fixative went into this one before its tissue was taken. Is the order right?") };
  }
  if (field === "delivered_ml") {
    const died = other("died_at");
    if (died && Date.parse(died) > Date.now() + (known.offset || 0)) {
      return { key: "fixed_before_death", words: _("By the notes this animal dies later than now. Is the time of death right?") };
    }
  }
  if (field === "place") {
    const taken = known.table.order.find((one) => one !== subject && known.value(one, "place") === value);
    if (taken) {
      return { key: "place_taken", words: _("{number} already lies there.", { number: known.table.subjects[taken].number }) };
    }
  }
  if (typeof value !== "number") return null;

  if (field === "retained_ml" && other("delivered_ml") !== null && value > other("delivered_ml")) {
    return { key: "retained_over_delivered", words: _("More stayed inside than went in ({n} mL).", { n: other("delivered_ml") }) };
  }
  const listed = about.planned[field];
  if (listed && listed.value !== null && spec.apart && Math.abs(value - listed.value) > spec.apart * listed.value) {
    const both = { listed: `${listed.words}${unit}`, written: `${value}${unit}` };
    let words = spec.round !== "before"
      ? _("Planned: {listed}. Written: {written}.", both)
      : _("The list has {listed}. Written: {written}.", both);
    if (shifted(value, listed.value)) words += ` ${_("The decimal mark one place off?")}`;
    else if (swapped(value, listed.value)) words += ` ${_("The same figures in another order?")}`;
    return { key: "far_from_plan", words };
  }
  if ((spec.low !== null && value < spec.low) || (spec.high !== null && value > spec.high)) {
    return { key: "out_of_range", words: _("Usually between {low} and {high}{unit}.", { low: spec.low, high: spec.high, unit }) };
  }
  if (field === "mass_g" || field === "length_mm") {
    const mass = field === "mass_g" ? value : other("mass_g");
    const length = field === "length_mm" ? value : other("length_mm");
    const grid = known.table.forms[about.form]?.fit;
    const limits = grid && mass !== null && length !== null ? between(grid, length) : null;
    if (limits && (mass < limits[0] || mass > limits[1])) {
      return {
        key: "mass_against_length",
        words: _("At {length} mm one would expect {low} to {high} g; the mass is {mass} g.", {
          length, mass, low: short(limits[0]), high: short(limits[1]),
        }),
      };
    }
  }
  if (field === "tail_mm" || field === "length_mm") {
    const tail = field === "tail_mm" ? value : other("tail_mm");
    const length = field === "length_mm" ? value : other("length_mm");
    const share = known.table.forms[about.form]?.tail_share;
    if (share && tail !== null && length > 0 && (tail / length < share[0] || tail / length > share[1]) && other("tail_state") !== "broken") {
      return { key: "tail_against_length", words: _("A tail of {tail} mm on {length} mm is unusual in this group.", { tail, length }) };
    }
  }
  return null;
}
