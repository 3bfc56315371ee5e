// A category from weight alone, by the rules of the server; held against it weight by weight.
"use strict";

globalThis.MarchstoneWeights = (() => {
  const ages = globalThis.MarchstoneAges;
  const MONTH = 365.25 / 12;
  const ASK_AGE = "Ask the age or the birth date.";
  const TABLE_END = "10 y";
  const LIGHTEST = 0.2, HEAVIEST = 650;

  function parse(text) {
    const found = /^\d{1,3}(\.\d{1,3})?$/.exec(text.trim().replace(",", "."));
    const kg = found ? Number(found[0]) : NaN;
    if (!(kg >= LIGHTEST && kg <= HEAVIEST)) {
      throw new Error(`a weight lies between ${LIGHTEST} and ${HEAVIEST} kg`);
    }
    return kg;
  }

  // In months; null beyond the table.
  function firstReaching(curve, kg) {
    const above = curve.findIndex((at) => at >= kg);
    return above < 0 ? null : between(curve, above - 1, kg);
  }

  function lastReached(curve, kg) {
    let last = 0;
    curve.forEach((at, month) => { if (at <= kg) last = month; });
    return last === curve.length - 1 ? null : between(curve, last, kg);
  }

  const between = (curve, month, kg) =>
    month + (kg - curve[month]) / (curve[month + 1] - curve[month]);

  function ofWeight(tables, kg) {
    const { medians, light, heavy } = tables;
    return {
      age: kg <= medians[0] ? 0 : firstReaching(medians, kg),
      youngest: kg <= heavy[0] ? 0 : firstReaching(heavy, kg),
      oldest: kg < light[0] ? 0 : lastReached(light, kg),
      preterm: kg < light[0],
    };
  }

  // As far as a weight can tell.
  function about(months) {
    if (months === 0) return "birth";
    if (months < 2) return `${Math.floor(months * MONTH)} d`;
    return months < 24 ? `${Math.floor(months)} mo` : `${Math.floor(months / 12)} y`;
  }

  function sure(tables, kg, found) {
    const { light, heavy } = tables;
    if (found.preterm) {
      return `Below the 3rd centile at birth (${light[0].toFixed(1)} kg): born preterm is possible.`;
    }
    if (found.youngest === null) {
      return `Above the 97th centile at ${TABLE_END}: the age cannot be told.`;
    }
    const until = found.oldest === null ? `beyond ${TABLE_END}` : about(found.oldest);
    const early = kg <= heavy[0] ? " Born preterm, the child may be older." : "";
    return `Usual from ${about(found.youngest)} to ${until}.${early}`;
  }

  const inDays = (ticks) => Number(ticks) / 160000;

  function touched(known, found, end) {
    if (found.youngest === null) return [];
    const youngest = found.youngest * MONTH;
    const oldest = (found.oldest === null ? end : found.oldest) * MONTH;
    return known.filter((one) =>
      inDays(one.start) <= oldest && (one.end === null || youngest < inDays(one.end)));
  }

  // `category` null: nothing may be shown before somebody chooses among `possible`.
  function resolve(tables, known, kg) {
    const found = ofWeight(tables, kg);
    const possible = touched(known, found, tables.medians.length - 1);
    const text = String(kg);
    if (found.age === null) {
      return {
        category: null,
        possible,
        how: `${text} kg is above the median at ${TABLE_END}, where the WHO table ends.`,
        ask: `${ASK_AGE} Weight alone cannot tell a heavy child from an adult.`,
      };
    }
    const days = found.age * MONTH;
    const category = known.find((one) =>
      inDays(one.start) <= days && (one.end === null || days < inDays(one.end))) || null;
    const one = possible.length === 1 && (found.oldest !== null || possible[0].end === null);
    const below = found.age === 0 ? "at or below " : "";
    let ask = one && !found.preterm ? null : ASK_AGE;
    if (found.preterm) ask = `${ASK_AGE} Ask the gestation at birth.`;
    return {
      category,
      possible,
      how: `By weight alone (${text} kg, ${below}the WHO median at ${about(found.age)}). ${sure(tables, kg, found)}`,
      ask,
    };
  }

  return { parse, resolve };
})();
