// Ages and categories by the rules of the server, for a phone without signal. Both are held
// against the same table of cases. An age is counted in ticks: a day has 16 × 10,000 of them, so
// that 1 y = 12 mo = 365.25 d and every age that can be typed is a whole number.
"use strict";

globalThis.MarchstoneAges = (() => {
  const PARTS = 10000n;
  const UNITS = { d: 16n * PARTS, mo: 487n * PARTS, y: 5844n * PARTS };
  const OLDEST = 130n * UNITS.y;
  const NEAR = 0.0125; // of the axis, as on the server
  const AXIS_END = Math.log1p((100 * 365.25) / 60);
  const LONG = { d: "day", mo: "month", y: "year" };

  function parse(text) {
    const found = /^(\d{1,5})(?:\.(\d{1,4}))? (d|mo|y)$/.exec(text);
    if (!found) {
      throw new Error("write a number, then choose days, months or years");
    }
    const amount = BigInt(found[1]) * PARTS + BigInt((found[2] || "").padEnd(4, "0") || "0");
    const ticks = (amount * UNITS[found[3]]) / PARTS;
    if (ticks > OLDEST) throw new Error(`${text} is older than 130 years`);
    return ticks;
  }

  // What the ruler says where it stops: birth, 12 d, 7.5 mo, 4 y 5 mo.
  function parseSpoken(text) {
    if (text === "birth") return 0n;
    const both = /^(\d+ y) (\d+ mo)$/.exec(text);
    return both ? parse(both[1]) + parse(both[2]) : parse(text);
  }

  const days = (ticks) => Number(ticks) / Number(UNITS.d);

  // The largest unit that gives a whole number; else the finest that reads well.
  function written(ticks) {
    if (ticks === 0n) return "0 d";
    for (const unit of ["y", "mo", "d"]) {
      if (ticks % UNITS[unit] === 0n) return `${ticks / UNITS[unit]} ${unit}`;
    }
    const unit = ticks >= UNITS.mo ? "mo" : "d";
    return `${Number((Number(ticks) / Number(UNITS[unit])).toFixed(2))} ${unit}`;
  }

  function words(text) {
    const [amount, unit] = text.split(" ");
    return `${amount} ${LONG[unit]}${amount === "1" ? "" : "s"}`;
  }

  function scheme(categories) {
    return categories.map((one) => ({
      ...one,
      start: parse(one.from),
      end: one.to === null ? null : parse(one.to),
    }));
  }

  const categoryAt = (known, ticks) =>
    known.find((one) => one.start <= ticks && (one.end === null || ticks < one.end)) || null;

  const place = (ticks) => Math.min(Math.log1p(days(ticks) / 60) / AXIS_END, 1);

  // The category across the nearer edge that the age lies near.
  function neighbour(known, category, ticks) {
    const found = [];
    for (const [edge, ahead] of [[category.end, true], [category.start, false]]) {
      if (edge === null) continue;
      const other = known.find((one) => (ahead ? one.start : one.end) === edge);
      const away = Math.abs(place(edge) - place(ticks));
      if (other && away <= NEAR) found.push({ category: other, edge: written(edge), ahead, away });
    }
    return found.sort((a, b) => a.away - b.away)[0] || null;
  }

  // Dates without a clock: noon would move with summer time, so they are kept in UTC.
  function date(text) {
    const found = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
    if (!found) throw new Error("write a day");
    return new Date(Date.UTC(Number(found[1]), Number(found[2]) - 1, Number(found[3])));
  }

  const dayNumber = (at) => Math.round(at.getTime() / 86400000);

  // A day that the calendar lacks becomes the first after that month, so nobody ages early.
  function anniversary(born, monthsLater) {
    const month = born.getUTCMonth() + monthsLater;
    const at = new Date(Date.UTC(born.getUTCFullYear(), month, born.getUTCDate()));
    const meant = ((month % 12) + 12) % 12;
    return at.getUTCMonth() === meant ? at : new Date(Date.UTC(born.getUTCFullYear(), month + 1, 1));
  }

  function firstDay(edge, born) {
    if (edge % UNITS.mo === 0n) return anniversary(born, Number(edge / UNITS.mo));
    const whole = (edge + UNITS.d - 1n) / UNITS.d;
    return new Date(born.getTime() + Number(whole) * 86400000);
  }

  function lived(born, on) {
    const past = dayNumber(on) - dayNumber(born);
    if (past < 0) throw new Error("a birth date cannot lie in the future");
    if (BigInt(past) * UNITS.d > OLDEST) {
      throw new Error("a birth date cannot lie more than 130 years back");
    }
    return past;
  }

  function categoryOn(known, born, on) {
    lived(born, on);
    const ordered = [...known].sort((a, b) => (a.start < b.start ? -1 : 1));
    for (const one of ordered) {
      if (one.end === null || firstDay(one.end, born) > on) {
        return firstDay(one.start, born) <= on ? one : null;
      }
    }
    return null;
  }

  function livedWords(born, on) {
    const past = lived(born, on);
    let months = 12 * (on.getUTCFullYear() - born.getUTCFullYear());
    months += on.getUTCMonth() - born.getUTCMonth();
    if (anniversary(born, months) > on) months -= 1;
    if (!months) return `${past} d`;
    if (months % 12 === 0) return `${months / 12} y`;
    return months < 24 ? `${months} mo` : `${Math.floor(months / 12)} y ${months % 12} mo`;
  }

  return {
    parse, parseSpoken, written, words, scheme, categoryAt, neighbour, date, firstDay, categoryOn,
    livedWords,
  };
})();
