"use strict";
/* The arithmetic of a pair whose era is in doubt, as pipeline/answers/era_odds/answer.py has it. */
const eraOdds = (() => {
  /* The value at a place of the line through points of which the places rise; beyond the ends `left` and `right`. */
  const interpolate = (place, places, values, left = values[0], right = values.at(-1)) => {
    if (place < places[0]) return left;
    if (place > places.at(-1)) return right;
    let [low, high] = [0, places.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (place >= places[middle]) low = middle + 1;
      else high = middle;
    }
    const at = low - 1;
    if (at >= places.length - 1 || places[at] === place) return values[at];
    return ((values[at + 1] - values[at]) / (places[at + 1] - places[at])) * (place - places[at]) + values[at];
  };

  /* The chances and log prices, both rising, of the distribution whose bands (by rising level) are given. */
  const quantilesOf = ({ centre, bands }) => {
    const down = [...bands].reverse();
    const chances = [...down.map(({ level }) => (1 - level) / 2), 0.5, ...bands.map(({ level }) => (1 + level) / 2)];
    const values = [];
    for (const place of [...down.map(({ low }) => Math.log(low)), centre, ...bands.map(({ high }) => Math.log(high))]) {
      values.push(Math.max(place, values.at(-1) ?? -Infinity));
    }
    return { chances, values };
  };

  /* The mixture of the parts' distributions: the log price below which it lies with a chance. */
  const mixtureOf = (parts) => {
    const places = [...new Set(parts.flatMap(({ quantiles }) => quantiles.values))].sort((one, other) => one - other);
    const below = places.map((place) =>
      parts.reduce((sum, part) => sum + part.chance * interpolate(place, part.quantiles.values, part.quantiles.chances, 0, 1), 0),
    );
    return (chance) => interpolate(chance, below, places);
  };

  const findingOut = (parts, price) => {
    const knowing = parts.reduce((sum, { chance, median }) => sum + chance * Math.max(median - price, 0), 0);
    const notKnowing = Math.max(averageOf(parts) - price, 0);
    return Math.max(knowing - notKnowing, 0);
  };

  const averageOf = (parts) => parts.reduce((sum, { chance, median }) => sum + chance * median, 0);

  const partsOf = (market, pair, odds) =>
    odds.map(([era, chance]) => {
      const { valued } = valuation.valueOf(market, { ...pair, era }, market.rules.fine_levels);
      const quantiles = quantilesOf(valued);
      const [low, high] = [0.1, 0.9].map((edge) => Math.exp(interpolate(edge, quantiles.chances, quantiles.values)));
      const sales = market.era_sales[pair.silhouette]?.[era] ?? 0;
      return { era, chance, median: Math.exp(valued.centre), low, high, sales, quantiles, unseen: valued.unseen };
    });

  const cautionsOf = (market, parts) => {
    const alone = ({ columns }) => columns.length === 1 && ["silhouette", "era"].includes(columns[0]);
    const blind = parts.filter((part) => part.unseen.some(alone)).map((part) => part.era);
    const { weaknesses } = market.rules;
    const guessed = { words: valuation.fill(market.doubt.blind, { eras: blind.join(" or ") }), weakness: weaknesses["no era"] };
    const [taken, authentic] = market.doubt.always;
    return [
      ...market.cautions.stale.map((words) => valuation.onFit(market, words)),
      ...(blind.length ? [guessed] : []),
      ...market.cautions.market.map((words) => valuation.onFit(market, words)),
      { words: taken, weakness: weaknesses.odds },
      { words: authentic, weakness: "" },
    ];
  };

  /* The value of a pair whose era has these chances, [[era, chance], …]; `price` is null for the average. */
  const valueInDoubt = (market, pair, odds, price) => {
    const parts = partsOf(market, pair, odds);
    const average = averageOf(parts);
    const quantile = mixtureOf(parts);
    return {
      eras: parts,
      median: Math.exp(quantile(0.5)),
      bands: market.rules.levels.map((level) => ({
        level,
        low: Math.exp(quantile((1 - level) / 2)),
        high: Math.exp(quantile((1 + level) / 2)),
      })),
      average,
      price: price ?? average,
      findingOut: findingOut(parts, price ?? average),
      most: findingOut(parts, average),
      ...valuation.saidOf(cautionsOf(market, parts)),
    };
  };

  /* The distribution of the price of such a pair, for the arithmetic of buying. */
  const distribution = (market, pair, odds) => {
    let mixture = null; // worked out when first asked for
    const own = odds.map(([era, chance]) => ({ chance, ...valuation.distribution(market, { ...pair, era }) }));
    return {
      quantile: (chance) => {
        mixture ??= mixtureOf(partsOf(market, pair, odds));
        return mixture(chance);
      },
      chanceBelow: (place) => own.reduce((sum, part) => sum + part.chance * part.chanceBelow(place), 0),
      expect: (worth) => own.reduce((sum, part) => sum + part.chance * part.expect(worth), 0),
    };
  };

  return { valueInDoubt, distribution };
})();
