// What both screens know: the plan of the evening and the newest entry for each field, from the laptop and from here.

import { _ } from "./words.js";

const key = (subject, field) => `${subject}\u0000${field}`;

/** Which of two entries is the newer: the place in order decides, then the id, on every device alike. */
export function newer(one, other) {
  return one.order_ms !== other.order_ms ? one.order_ms > other.order_ms : one.id > other.id;
}

export class Known extends EventTarget {
  constructor(table) {
    super();
    this.table = table;
    this.seq = table.seq;
    this.latest = new Map();
    this.answers = new Map();
    this.last = null;
    for (const entry of table.current) this.fold(entry);
    this.findLast();
  }

  /** The newest word of any pen, so that it is in sight again after a reload or a break. */
  findLast() {
    this.last = null;
    for (const entry of this.latest.values()) {
      if (isWritten(entry) && (!this.last || newer(entry, this.last))) this.last = entry;
    }
  }

  fold(entry) {
    if (entry.answers) {
      const before = this.answers.get(entry.answers);
      if (!before || newer(entry, before)) this.answers.set(entry.answers, entry);
      return;
    }
    if (entry.field === "new_batch") this.table.bottles[entry.subject] = { name: entry.number, mixed_at: entry.mixed_at || "" };
    if (!this.table.subjects[entry.subject]) {
      if (entry.field === "animal") this.welcome(entry);
      if (entry.field === "new_tray") this.welcomeTray(entry);
    }
    const name = key(entry.subject, entry.field);
    const before = this.latest.get(name);
    if (!before || before.id === entry.id || newer(entry, before)) this.latest.set(name, { ...before?.id === entry.id ? before : {}, ...entry });
  }

  /** An animal that was not in the plan: its form says which fields it has. */
  welcome(entry) {
    const form = this.table.forms[entry.value] ? entry.value : "lizard";
    const { fields, moves } = this.table.forms[form];
    this.table.subjects[entry.subject] = {
      subject: entry.subject, number: entry.number || entry.subject, taxon: entry.text || "", form, fields, moves,
      planned: {}, check: entry.check || "", cautions: [], added: true,
    };
    this.table.order.push(entry.subject);
  }

  /** A tray that was not planned, with its covering. */
  welcomeTray(entry) {
    const cover = this.table.rounds.find((round) => round.key === "cover");
    this.table.subjects[entry.subject] = {
      subject: entry.subject, number: entry.number, form: "", taxon: "", check: "", planned: {},
      fields: Object.values(this.table.fields).filter((spec) => spec.round === "cover").map((spec) => spec.key),
      moves: [{ key: "cover/all", round: "cover", what: cover.words }], name: _("Tray {number}", { number: entry.number }),
    };
    this.table.trays.push(entry.subject);
  }

  /** Take an entry from the stream or from this device. */
  take(entry) {
    if (entry.seq) this.seq = Math.max(this.seq, entry.seq);
    this.fold(entry);
    if (isWritten(entry)) this.last = entry;
    this.dispatchEvent(new CustomEvent("entry", { detail: entry }));
  }

  /** Begin anew from what the laptop has now, without losing what waits here. */
  renew(table, waiting) {
    Object.assign(this.table, table, { device: this.table.device });
    this.seq = table.seq;
    for (const entry of [...table.current, ...waiting]) this.fold(entry);
    this.findLast();
    this.dispatchEvent(new Event("renewed"));
  }

  of(subject, field) {
    return this.latest.get(key(subject, field)) || null;
  }

  value(subject, field) {
    const entry = this.of(subject, field);
    return entry && entry.value !== null ? entry.value : null;
  }

  /** Whether the hands are done with a move, by their own word or because the pen closed the round. */
  moved(subject, move) {
    return this.value(subject, `move:${move.key}`) === true || this.value(subject, `round:${move.round}`) === true;
  }

  /** The animals of a round in the order of work; those put off come last. */
  order(round) {
    if (round === "cover") return this.table.trays;
    const late = (subject) => this.of(subject, `later:${round}`)?.order_ms || 0;
    const place = new Map(this.table.order.map((subject, i) => [subject, i]));
    return this.table.order
      .filter((subject) => this.value(subject, "left_out") !== true)
      .sort((a, b) => late(a) - late(b) || place.get(a) - place.get(b));
  }

  /** The next thing for the hands to do, or null when the table is done. */
  next() {
    for (const { key: round } of this.table.rounds) {
      const order = this.order(round);
      for (let i = 0; i < order.length; i += 1) {
        const moves = this.table.subjects[order[i]].moves.filter((move) => move.round === round);
        const at = moves.findIndex((move) => !this.moved(order[i], move));
        if (at >= 0) return { round, subject: order[i], move: moves[at], step: at + 1, steps: moves.length, place: i + 1, places: order.length };
      }
    }
    return null;
  }

  /** The last thing that was marked as done by the hands, for going back. */
  previous() {
    let last = null;
    for (const entry of this.latest.values()) {
      if (entry.field.startsWith("move:") && entry.value === true && (!last || newer(entry, last))) last = entry;
    }
    return last;
  }

  /** The bottle that stands open, if one was named: its id, name and moment of mixing. */
  get bottle() {
    const id = this.value("session", "bottle");
    return id ? { id, ...(this.table.bottles[id] || { name: this.of("session", "bottle").text, mixed_at: "" }) } : null;
  }

  /** The word that ended the evening, if it stands. */
  get ended() {
    const entry = this.of("session", "ended");
    return entry && entry.value === true ? entry : null;
  }

  get paused() {
    const entry = this.of("session", "pause");
    return entry && entry.value === true ? entry : null;
  }
}

/** Whether an entry is something a person wrote down, and not a step or a pause. */
export function isWritten(entry) {
  return !/^(move|round|later):|^new_/.test(entry.field) && entry.subject !== "session" && !entry.answers;
}
