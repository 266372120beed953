"use strict";
/* The era in doubt: what its controls say, and the value of the mixture in words. */
const doubtOf = ({ stored, form, by, figures, fillTable }) => {
  const { choices, doubt: said } = stored;
  const { era } = form.elements;
  const names = choices.eras.map(([name]) => name);
  const inputs = [...by("odds").querySelectorAll("input")];
  const inDoubt = () => era.value === "doubt";

  // ---- pipeline/answers/era_odds/answer.py, read_odds: from the controls to the chance of each era

  const chanceOf = (text) => {
    const bare = text.normalize("NFKC").replace(/[\s%]/g, "").replace(",", ".");
    if (bare === "") return 0;
    return /^\d{1,3}(\.\d{1,4})?$/.test(bare) && Number(bare) <= 100 ? Number(bare) : null;
  };

  const read = () => {
    if (!inDoubt()) return { odds: null, oddsFault: "" };
    const chances = inputs.map((input) => chanceOf(input.value));
    if (chances.includes(null)) return { odds: null, oddsFault: "A chance is a number from 0 to 100. The era is taken as not known." };
    const total = chances.reduce((sum, chance) => sum + chance, 0);
    if (Math.abs(total / 100 - 1) > said.slack) {
      const summed = total === 0 ? "Give the chance of each era" : `They come to ${Number(total.toFixed(2))}\u00a0%`;
      return { odds: null, oddsFault: `${summed}; they must come to 100\u00a0%. Until then the era is taken as not known.` };
    }
    return { odds: names.map((name, number) => [name, chances[number] / total]).filter(([, chance]) => chance > 0), oddsFault: "" };
  };

  const showControls = (pair) => {
    by("odds").hidden = !inDoubt();
    by("odds-says").textContent = pair.oddsFault;
    for (const input of inputs) input.setAttribute("aria-invalid", String(pair.oddsFault !== ""));
  };

  // ---- the address keeps the odds, in the words of the command's option

  const keep = (kept, { odds }) => {
    if (odds !== null) kept.set("era-odds", odds.map(([name, chance]) => `${name}=${Number(chance.toPrecision(6))}`).join(","));
  };

  const restore = (kept, meant) => {
    for (const input of inputs) input.value = "";
    if (!kept.has("era-odds")) return;
    era.value = "doubt";
    for (const part of kept.get("era-odds").split(",")) {
      const [name, chance] = part.split("=");
      const number = names.indexOf(meant(name.trim()));
      if (number >= 0) inputs[number].value = String(Number((100 * Number(chance)).toPrecision(6)));
    }
  };

  // ---- the answer

  const likeliest = (pair) =>
    pair.odds === null ? pair : { ...pair, era: pair.odds.reduce((best, one) => (one[1] > best[1] ? one : best))[0] };

  const distribution = (market, pair) =>
    pair.odds === null ? valuation.distribution(market, pair) : eraOdds.distribution(market, pair, pair.odds);

  const oddsWords = (odds) => `in doubt: ${odds.map(([name, chance]) => `${name} ${figures.level(chance)}`).join(", ")}`;

  const sentenceOf = (value, band) =>
    valuation.fill(said.answer, { low: figures.estimate(band.low), high: figures.estimate(band.high) });

  const show = (value) => {
    const eras = value.eras ?? null;
    by("in-doubt").hidden = eras === null;
    for (const note of document.querySelectorAll(".as-if")) {
      note.textContent = eras === null ? "" : `As if it were ${figures.words(likeliest(value.pair).era, 80)}, the likeliest era.`;
    }
    if (eras === null) return;
    const { average, price, findingOut, most } = value;
    const parts = { average, price, worth: findingOut, most };
    const written = Object.fromEntries(Object.entries(parts).map(([name, amount]) => [name, figures.estimate(amount)]));
    by("finding-out").textContent = most < said.worth_nothing * average ? said.nothing : valuation.fill(price === average ? said.at_average : said.at_price, written);
    fillTable(
      by("table-eras"),
      "What the pair is worth in each era",
      [["Era", false], ["Chance", true], ["Fair value", true], ["80\u00a0% band", true], ["Sales", true]],
      eras.map((one) => [`If ${figures.words(one.era, 80)}`, figures.level(one.chance), figures.estimate(one.median), figures.range(one), figures.count(one.sales)]),
    );
  };

  return { read, showControls, keep, restore, likeliest, distribution, oddsWords, sentenceOf, show };
};
