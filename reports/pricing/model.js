"use strict";
/* The arithmetic of a value, as pipeline/ has it: each part says which module it mirrors. It reads the document that
   reports/pricing.py writes and touches no page. A design row is a list of [position, weight]; a term without a
   coefficient there has none. */
const valuation = (() => {
  // ---- pipeline/hedonic/levels.py: how values become the keys by which effects are known

  const levelText = (value, rules) => (value === null ? rules.unknown : String(value));

  const levelKey = (factors, columns, rules) =>
    columns.map((column) => levelText(factors[column], rules)).join(rules.separator);

  const flagKeys = (factors, columns, rules) => {
    const flags = factors[columns[0]] === null ? [rules.unknown] : [...new Set(factors[columns[0]])];
    const rest = columns.slice(1).map((column) => levelText(factors[column], rules));
    return flags.map((flag) => [flag, ...rest].join(rules.separator));
  };

  // ---- pipeline/hedonic/rows.py: one term's share of a design row

  const at = (term, level) => (level < 0 || term.positions[level] < 0 ? [] : [[term.positions[level], 1]]);

  const layTerm = (fit, term, factors) => {
    if (term.many) return layFlags(fit, term, factors);
    const key = levelKey(factors, term.columns, fit.rules);
    const level = term.levels.get(key) ?? -1;
    const trend = layTrend(term, factors[term.columns[0]]);
    if (level >= 0) {
      const records = term.records[level];
      const slots = [...at(term, level), ...trend];
      return { term, key, slots, extra: 0, unseen: false, extrapolated: false, records };
    }
    const between = term.groups === null ? null : layBetween(fit, term, factors);
    if (between !== null) {
      return { term, key, ...between, slots: [...between.slots, ...trend], unseen: false, records: 0 };
    }
    return { term, key, slots: [], extra: term.unseen, unseen: true, extrapolated: false, records: 0 };
  };

  const layFlags = (fit, term, factors) => {
    const keys = flagKeys(factors, term.columns, fit.rules);
    const levels = keys.map((key) => term.levels.get(key) ?? -1);
    const unseen = levels.filter((level) => level < 0).length;
    return {
      term,
      key: keys.sort().join(" + "),
      slots: levels.flatMap((level) => at(term, level)),
      extra: unseen * term.unseen,
      unseen: unseen > 0,
      extrapolated: false,
      records: levels.reduce((least, level) => Math.min(least, level < 0 ? 0 : term.records[level]), fit.rows),
    };
  };

  /* A place that is no level itself. A walk keeps its nearest level past its ends (layTrend adds to that), and gains
     the step variance times the gap; between levels it is a Brownian bridge. A curve goes on straight; its variance is
     that of twice integrated noise about the chord of the two nearest levels. */
  const layBetween = (fit, term, factors) => {
    const place = factors[term.columns[0]];
    const group = term.columns.length > 1 ? levelKey(factors, term.columns.slice(1), fit.rules) : "";
    const curve = term.groups[group];
    if (place === null || curve === undefined) return null;
    const { places, levels } = curve;
    const last = places.length - 1;
    const extrapolated = place < places[0] || place > places[last];
    const walk = term.kind === "walk";
    const end = extrapolated ? JSON.stringify([group, place > places[last]]) : null;
    if (last === 0) {
      const gap = Math.abs(place - places[0]);
      const noise = walk ? term.noise : 0;
      return { slots: at(term, levels[0]), extra: noise * gap, extrapolated, end, distance: gap, noise, chord: walk ? null : 0 };
    }
    let right = places.findIndex((known) => known >= place);
    right = Math.min(Math.max(right < 0 ? last : right, 1), last);
    const [low, high] = [places[right - 1], places[right]];
    const width = high - low;
    const distance = Math.max(place - high, low - place, 0);
    const inside = Math.min(Math.max(place - low, 0), width);
    const share = walk ? inside / width : (place - low) / width;
    const slots = [...at(term, levels[right - 1]), ...at(term, levels[right])];
    const weights = [1 - share, share].filter((_, end) => term.positions[levels[right - 1 + end]] >= 0);
    const weighted = slots.map(([position], slot) => [position, weights[slot]]);
    if (walk) {
      const extra = term.noise * ((inside * (width - inside)) / width + distance);
      return { slots: weighted, extra, extrapolated, end, distance, noise: term.noise, chord: null };
    }
    const intensity = term.noise / ((places[last] - places[0]) / last) ** 3;
    const variance =
      (inside * (width - inside)) ** 2 / (3 * width) + distance ** 3 / 3 + (distance ** 2 * width) / 3;
    return { slots: weighted, extra: intensity * variance, extrapolated, end, distance, noise: intensity, chord: width };
  };

  /* pipeline/hedonic/fitted.py, Trend.steps: what a walk is behind, and beyond its last level the damped trend. */
  const layTrend = (term, place) => {
    if (term.trend === null || place === null) return [];
    const { places } = term.groups[""];
    const { damping, lags, slope } = term.trend;
    const last = places.length - 1;
    const right = places.findIndex((known) => known >= place);
    const share = right > 0 ? (places[right] - place) / (places[right] - places[right - 1]) : 0;
    const lag = right < 0 ? lags[last] : lags[right] + share * ((lags[right - 1] ?? 0) - lags[right]);
    const steps = lag + (damping * (1 - damping ** Math.max(place - places[last], 0))) / (1 - damping);
    return slope.map(([position, weight]) => [position, steps * weight]);
  };

  const layRows = (fit, factors) => fit.terms.map((term) => layTerm(fit, term, factors));

  const effectOf = (fit, slots) =>
    slots.reduce((sum, [position, weight]) => sum + fit.coefficients[position] * weight, 0);

  const covarianceOf = (fit, one, other) => {
    const [row, column] = one > other ? [one, other] : [other, one];
    if (column < fit.common) return fit.covariance[fit.offset[row] + column];
    if (column < fit.first[row]) throw new Error("two silhouettes' effects have no covariance here");
    return fit.covariance[fit.offset[row] + fit.common + column - fit.first[row]];
  };

  const quadratic = (fit, slots) => {
    let sum = 0;
    for (const [row, weight] of slots) {
      for (const [column, other] of slots) sum += weight * other * covarianceOf(fit, row, column);
    }
    return sum;
  };

  // ---- pipeline/hedonic/predict.py: log prices, and the step from one record to another

  const predict = (fit, laid) => {
    const slots = [[0, 1], ...laid.flatMap((row) => row.slots)];
    return {
      logPrice: effectOf(fit, slots),
      variance: quadratic(fit, slots) + laid.reduce((sum, row) => sum + row.extra, 0),
      unseen: laid.filter((row) => row.unseen).map((row) => row.term),
      extrapolated: laid.filter((row) => row.extrapolated).map((row) => row.term),
    };
  };

  const logPrice = (fit, laid) => effectOf(fit, [[0, 1], ...laid.flatMap((row) => row.slots)]);

  const stepExtra = (before, after) => {
    if (before.key === after.key) return 0;
    if (!before.extrapolated || before.end !== after.end) return before.extra + after.extra;
    const [near, far] = [Math.min(before.distance, after.distance), Math.max(before.distance, after.distance)];
    const bent = ((far - near) ** 2 * (far + 2 * near + before.chord)) / 3;
    return before.noise * (before.chord === null ? far - near : bent);
  };

  const effectsByAttribute = (fit, start, end) => {
    const effects = new Map();
    start.forEach((before, number) => {
      const after = end[number];
      const effect = effectOf(fit, after.slots) - effectOf(fit, before.slots);
      const attribute = before.term.attribute;
      effects.set(attribute, (effects.get(attribute) ?? 0) + (before.key === after.key ? 0 : effect));
    });
    return effects;
  };

  const differenceVariance = (fit, start, end) => {
    // What both records share cancels out.
    const apart = start.map((before, number) => [before, end[number]]).filter(([one, other]) => one.key !== other.key);
    const slots = apart.flatMap(([before, after]) => [
      ...after.slots,
      ...before.slots.map(([position, weight]) => [position, -weight]),
    ]);
    return quadratic(fit, slots) + apart.reduce((sum, [before, after]) => sum + stepExtra(before, after), 0);
  };

  // ---- pipeline/hedonic/scales.py: how widely single sales like it lie

  const scaleOf = (market, factors, fitted) => {
    const steps = Math.round(fitted / market.rules.fitted_step) * market.rules.fitted_step;
    const read = { ...factors, [market.rules.fitted]: Math.round(steps * 1e6) / 1e6 };
    return Math.max(Math.exp(logPrice(market.scatter, layRows(market.scatter, read))), market.rules.least_scale);
  };

  // ---- pipeline/hedonic/bands.py, scores.py: the quantile of N(0, variance) + scale × Student-t

  /* erf by its series (Abramowitz & Stegun 7.1.6), and above 3 by the continued fraction of erfc (7.1.14). */
  const normalChance = (place) => {
    const size = Math.abs(place) / Math.SQRT2;
    const factor = Math.exp(-size * size) / Math.sqrt(Math.PI);
    let above;
    if (size < 3) {
      let term = size;
      let sum = size;
      for (let order = 1; term > sum * 1e-17; order += 1) {
        term *= (2 * size * size) / (2 * order + 1);
        sum += term;
      }
      above = 0.5 - factor * sum;
    } else {
      let fraction = size;
      for (let order = 60; order > 0; order -= 1) fraction = size + order / 2 / fraction;
      above = factor / fraction / 2;
    }
    return place > 0 ? 1 - above : above;
  };

  const sumDistribution = (mixture, point, variance, scale) => {
    let chance = 0;
    let density = 0;
    mixture.nodes.forEach((precision, number) => {
      const spread = Math.max(Math.sqrt(variance + (scale / precision) ** 2), 1e-300);
      const standardised = point / spread;
      chance += mixture.weights[number] * normalChance(standardised);
      density += (mixture.weights[number] * Math.exp((-standardised * standardised) / 2)) / Math.sqrt(2 * Math.PI) / spread;
    });
    return [chance, density];
  };

  const halfWidth = (mixture, variance, scale, [, above, student, normal]) => {
    const whole = Math.sqrt(variance + scale ** 2);
    if (mixture === null) return normal * whole;
    let low = 0;
    let high = student * whole + normal * Math.sqrt(variance);
    let point = Math.max(student * scale, normal * whole);
    for (let round = 0; round < 60; round += 1) {
      const [chance, density] = sumDistribution(mixture, point, variance, scale);
      if (chance < above) low = point;
      else high = point;
      const step = point - (chance - above) / Math.max(density, 1e-300);
      const renewed = step > low && step < high ? step : (low + high) / 2;
      if (Math.abs(renewed - point) < 1e-12) return renewed;
      point = renewed;
    }
    return point;
  };

  // ---- pipeline/market/bands.py: the value of a pair in log price, and its bands

  const scoreAt = (market, level) => market.scores.find((score) => Math.abs(score.level - level) < 1e-9);

  const valuePair = (market, factors, laid, levels = market.rules.levels) => {
    const predicted = predict(market.fit, laid);
    const variance = Math.max(predicted.variance, 0);
    const scale = scaleOf(market, factors, predicted.logPrice);
    const [correction, error] = secondStage(market, laid);
    const centre = predicted.logPrice + correction;
    const group = levelText(factors.era, market.rules);
    const bands = levels.map((level) => {
      const { least, groups } = scoreAt(market, level);
      const { low, high } = groups[group];
      return {
        level,
        low: Math.exp(centre + Math.min(low[0] * halfWidth(market.mixture, variance, scale, low), -least)),
        high: Math.exp(centre + Math.max(high[0] * halfWidth(market.mixture, variance, scale, high), least)),
      };
    });
    return { ...predicted, centre, variance, scale, group, correction, correctionError: error, bands };
  };

  // ---- pipeline/market/price_distribution.py: what a pair may sell for, as a whole distribution

  const distributionOf = (market, { centre, variance, scale, group }) => {
    const { chances } = market.buying;
    const quantile = (chance) => {
      if (chance === 0.5) return centre;
      const { least, groups } = scoreAt(market, Math.abs(1 - 2 * chance));
      const error = halfWidth(market.mixture, variance, scale, groups[group][chance < 0.5 ? "low" : "high"]);
      return centre + Math.sign(chance - 0.5) * Math.max(error, least);
    };
    const table = [];
    for (const chance of chances) table.push(Math.max(quantile(chance), table.at(-1) ?? -Infinity));
    const last = chances.length - 1;
    const chanceBelow = (place) => {
      const above = Math.min(Math.max(table.filter((known) => known < place).length, 1), last);
      const [low, high] = [table[above - 1], table[above]];
      const share = Math.min(Math.max((place - low) / Math.max(high - low, 1e-12), 0), 1);
      return chances[above - 1] + share * (chances[above] - chances[above - 1]);
    };
    const expect = (worth) => {
      const edges = [0, ...chances.slice(1).map((chance, number) => (chances[number] + chance) / 2), 1];
      return table.reduce((sum, place, number) => sum + worth(Math.exp(place)) * (edges[number + 1] - edges[number]), 0);
    };
    return { quantile, chanceBelow, expect };
  };

  // ---- pipeline/hedonic/second_stage.py: what attributes are worth together, beyond each alone

  /* What is known of a pair: what each attribute is worth, and what it answers the trees (NaN: not known). */
  const ask = ({ fit, trees }, laid) => {
    const worth = new Map(trees.attributes.map((attribute) => [attribute, 0]));
    const rows = new Map(laid.map((row) => [row.term.name, row.slots]));
    for (const { term, slots } of laid) {
      if (term.kind !== "walk") worth.set(term.attribute, worth.get(term.attribute) + effectOf(fit, slots));
    }
    const answers = trees.questions.map(({ attribute, term, asks, answers: known }) => {
      if (asks === "worth") return worth.get(attribute);
      const slots = rows.get(term);
      if (asks === "level") return slots.length === 0 ? NaN : known.get(slots[0][0]);
      return slots.reduce((sum, [position, weight]) => sum + known.get(position) * weight, 0);
    });
    return { worth: [...worth.values()], answers };
  };

  const plainOf = (trees) => ({
    worth: trees.attributes.map(() => 0),
    answers: trees.questions.map(({ asks }) => (asks === "level" ? NaN : 0)),
  });

  const nextOf = (trees, node, answer) => {
    const { levels } = trees.questions[trees.question[node]];
    let low = answer <= trees.number[node];
    if (Number.isNaN(answer)) low = trees.unknown[node] === 1;
    else if (levels > 0) {
      const word = trees.words[trees.number[node] * trees.width + Math.floor(answer / trees.bits)];
      low = ((word >> answer % trees.bits) & 1) === 1;
    }
    return node + (low ? trees.left[node] : trees.right[node]);
  };

  const leafOf = (trees, root, answers) => {
    let node = root;
    while (trees.question[node] !== trees.leaf) node = nextOf(trees, node, answers[trees.question[node]]);
    return trees.number[node];
  };

  const learnedOf = (trees, { worth, answers }) =>
    trees.roots.reduce((sum, root) => sum + leafOf(trees, root, answers), trees.start) -
    trees.stands_for * worth.reduce((sum, one) => sum + one, 0);

  const secondStage = (market, laid) => {
    const { trees } = market;
    if (trees === null) return [0, 0];
    const learned = learnedOf(trees, ask(market, laid));
    return [trees.share * learned, trees.share_error * Math.abs(learned)];
  };

  const factorial = (number) => (number < 2 ? 1 : number * factorial(number - 1));

  /* Each leaf that some attributes of the pair (ours) and some of a plain one (theirs) reach is a game, won by all of
     ours and lost by any of theirs: its Shapley values add up to what the pair gets beyond a plain one. */
  const sharesOf = (trees, { worth, answers }) => {
    const plain = plainOf(trees).answers;
    const shares = worth.map((one) => -trees.stands_for * one);
    const attributeOf = trees.questions.map(({ attribute }) => trees.attributes.indexOf(attribute));
    const share = (node, ours, theirs) => {
      const question = trees.question[node];
      if (question === trees.leaf) {
        const value = trees.number[node] / factorial(ours.length + theirs.length);
        for (const one of ours) shares[one] += value * factorial(ours.length - 1) * factorial(theirs.length);
        for (const one of theirs) shares[one] -= value * factorial(ours.length) * factorial(theirs.length - 1);
        return;
      }
      const attribute = attributeOf[question];
      const [way, other] = [nextOf(trees, node, answers[question]), nextOf(trees, node, plain[question])];
      if (way === other || ours.includes(attribute)) share(way, ours, theirs);
      else if (theirs.includes(attribute)) share(other, ours, theirs);
      else {
        share(way, [...ours, attribute], theirs);
        share(other, ours, [...theirs, attribute]);
      }
    };
    for (const root of trees.roots) share(root, [], []);
    return shares;
  };

  /* The parts of the second stage's factor; that of every pair, the last, has no name. */
  const partsOf = (market, laid) => {
    const { trees, rules } = market;
    const common = learnedOf(trees, plainOf(trees));
    const nameOf = (attribute) => (rules.lists.includes(attribute) ? attribute : (rules.names[attribute] ?? attribute));
    const shares = sharesOf(trees, ask(market, laid));
    const named = shares.map((part, number) => [nameOf(trees.attributes[number]), part]);
    return [...named, ["", common]].map(([name, part]) => ({ name, factor: Math.exp(trees.share * part) }));
  };

  // ---- pipeline/market/attributes.py: values as a reader sees them

  const factorText = (market, factors, name) => {
    const { rules } = market;
    const value = factors[name];
    if (rules.lists.includes(name)) {
      return value === null ? rules.unknown : [...value].sort().join(", ") || "none";
    }
    if (name === "month") return `${Math.floor(value / 12)}-${String((value % 12) + 1).padStart(2, "0")}`;
    const text = levelText(value, rules);
    return name === "size_mm" && value !== null ? `${text} mm` : text;
  };

  // ---- pipeline/answers/appraisal/waterfall.py: what each attribute does to the price

  const waterfall = (market, factors) => {
    const { fit, rules } = market;
    let price = Math.exp(fit.coefficients[0]);
    const steps = [];
    for (const [attribute, owned] of termsByAttribute(market)) {
      for (const [value, priced] of valuesOf(market, factors, attribute)) {
        const laid = owned.map((term) => layTerm(fit, term, priced));
        const slots = laid.flatMap((row) => row.slots);
        const effect = effectOf(fit, slots);
        const extra = laid.reduce((sum, row) => sum + row.extra, 0);
        const sales = Math.max(...laid.map((row) => row.records));
        const unsaid = attribute === "month" || value === rules.unknown || value === rules.any_venue;
        if (effect === 0 && sales === 0 && unsaid) continue; // not stated, and moves nothing
        price *= Math.exp(effect);
        const error = Math.sqrt(Math.max(quadratic(fit, slots) + extra, 0));
        steps.push({ attribute: rules.names[attribute] ?? attribute, value, factor: Math.exp(effect), price, error, sales });
      }
    }
    return steps;
  };

  const termsByAttribute = (market) => {
    const owned = new Map();
    for (const term of market.fit.terms) owned.set(term.attribute, [...(owned.get(term.attribute) ?? []), term]);
    const { order } = market.rules;
    const rank = (attribute) => (order.includes(attribute) ? order.indexOf(attribute) : order.length);
    return [...owned].sort(([one], [other]) => rank(one) - rank(other));
  };

  const valuesOf = (market, factors, attribute) => {
    const listed = market.rules.lists.includes(attribute) ? factors[attribute] : null;
    if (listed === null) return [[factorText(market, factors, attribute), factors]];
    return listed.map((entry) => [entry, { ...factors, [attribute]: [entry] }]);
  };

  // ---- pipeline/answers/appraisal/comparables.py: the nearest sales, each adjusted to the pair

  const nearestSales = (market, laid, sales) =>
    sales
      .map((sale) => {
        const effects = effectsByAttribute(market.fit, sale.laid, laid);
        let worth = 0;
        for (const [attribute, effect] of effects) if (attribute !== "month") worth += effect ** 2;
        const variance = Math.max(differenceVariance(market.fit, sale.laid, laid), 0);
        return { ...sale, effects, distance: Math.sqrt(worth + variance) };
      })
      .sort(
        (one, other) =>
          one.distance - other.distance || (one.day < other.day) - (one.day > other.day) || (one.record < other.record) - (one.record > other.record),
      )
      .slice(0, market.rules.most);

  const adjust = (market, factors, sale) => {
    const { rules } = market;
    const adjustments = [];
    for (const name of rules.order.filter((known) => sale.effects.has(known))) {
      const effect = sale.effects.get(name);
      const [theirs, ours] = [factorText(market, sale.factors, name), factorText(market, factors, name)];
      if (theirs !== ours || Math.abs(effect) > rules.smallest) {
        adjustments.push({ attribute: rules.names[name], theirs, ours, factor: Math.exp(effect) });
      }
    }
    const total = [...sale.effects.values()].reduce((sum, effect) => sum + effect, 0);
    const { record, title, venue, day, paid, distance, residual } = sale;
    const about = attributesOf(market, sale.factors);
    return { record, title, about, venue, day, paid, distance, residual, adjustments, adjusted: paid * Math.exp(total) };
  };

  /* What a list of sales says of each: its model, then each of `rules.short`; null where it is not known. */
  const attributesOf = (market, factors) => {
    const stated = (name) => {
      const text = factorText(market, factors, name);
      return text === market.rules.unknown ? null : text;
    };
    return [stated("colourway") ?? stated("silhouette"), ...market.rules.short.map(stated)];
  };

  // ---- pipeline/answers/appraisal/cautions.py: the warnings that belong with a value

  const fill = (sentence, values) => sentence.replace(/\{(\w+)\}/g, (_, name) => values[name]);

  const knowsSilhouette = (market, valued, ownSales) => {
    const own = (term) => term.attribute === "silhouette";
    return market.fit.terms.some(own) ? !valued.unseen.some(own) : ownSales > 0;
  };

  /* The caution on how few sales of its silhouette stand behind a value, by its key; null where they are enough. */
  const supportOf = (market, valued, ownSales) => {
    if (!knowsSilhouette(market, valued, ownSales)) return "no silhouette";
    if (ownSales === 0) return "later sales";
    return ownSales < market.rules.few_sales ? "few sales" : null;
  };

  /* The caution on the era of a pair, by its key; null where sales of it stand behind the value. */
  const eraCaution = (pair, valued) => {
    const missing = (attribute) => valued.unseen.some((term) => term.attribute === attribute);
    if (pair.era === null) return "era not known";
    if (valued.unseen.some(({ columns }) => columns.length === 1 && columns[0] === "era")) return "no era";
    return missing("era") && !missing("silhouette") ? "no such era of it" : null;
  };

  /* The cautions, {words, weakness}: `weakness` says why the value itself is in doubt, "" where it is not. */
  const cautionsOf = (market, pair, valued, ownSales) => {
    const { rules } = market;
    const stated = market.cautions.stale.map((words) => onFit(market, words));
    const say = (name, values = {}) =>
      stated.push({ words: fill(rules.sentences[name], values), weakness: rules.weaknesses[name] ?? "" });
    const missing = new Set(valued.unseen.map((term) => term.attribute));
    const extrapolated = new Set(valued.extrapolated.map((term) => term.attribute));
    const support = supportOf(market, valued, ownSales);
    if (support !== null) {
      const count = `${ownSales} ${ownSales === 1 ? "sale" : "sales"}`;
      say(support, { count, silhouette: pair.silhouette, hint: market.cautions.hints[pair.silhouette] });
    }
    const era = eraCaution(pair, valued);
    if (era !== null) say(era);
    if (missing.has("colourway") && !missing.has("silhouette") && pair.colourway) {
      say("no colourway", { colourway: pair.colourway });
    }
    const isKnown = (field) => pair[field] !== null && pair[field] !== rules.unknown;
    const steps = rules.stepped.filter((name) => missing.has(name) && isKnown(name)).map((name) => rules.names[name]);
    if (steps.length) say("no attribute", { names: steps.join(", ") });
    const outside = rules.extrapolated.filter((name) => extrapolated.has(name));
    if (outside.length) say("extrapolated", { names: outside.map((name) => rules.names[name]).join(" and ") });
    const unknown = Object.entries(rules.asked)
      .filter(([, field]) => !isKnown(field))
      .map(([name]) => name);
    if (unknown.length) say("not known", { names: unknown.join(", ") });
    if (pair.venue === null || pair.venue === rules.any_venue) say("any venue");
    if (pair.treatments !== null && pair.treatments.length) say("restored");
    return [...stated, ...market.cautions.market.map((words) => onFit(market, words))];
  };

  /* Cautions as an answer holds them: all in words, and those that put the value itself in doubt. */
  const saidOf = (stated) => ({
    cautions: stated.map(({ words }) => words),
    weak: stated.filter(({ weakness }) => weakness !== ""),
  });

  /* A caution on every value of the fit. */
  const onFit = (market, words) => ({ words, weakness: market.cautions.weaknesses[words] ?? "" });

  // ---- pipeline/market/model.py, pipeline/answers/appraisal/answer.py: from a pair to its appraisal

  const pairFactors = (market, pair) => ({
    silhouette: pair.silhouette,
    colourway: pair.colourway,
    era: pair.era,
    size_mm: pair.foot_mm === null ? null : market.rules.size_step * Math.round(pair.foot_mm / market.rules.size_step),
    grade: pair.grade,
    ...Object.fromEntries(market.rules.closed.map((name) => [name, pair[name] ?? market.rules.unknown])),
    parts: pair.parts,
    defects: pair.defects,
    treatments: pair.treatments,
    venue: pair.venue ?? market.rules.any_venue,
    month: market.month,
  });

  /* The value of a pair, with its factors and design rows. */
  const valueOf = (market, pair, levels) => {
    const factors = pairFactors(market, pair);
    const laid = layRows(market.fit, factors);
    return { factors, laid, valued: valuePair(market, factors, laid, levels) };
  };

  const distribution = (market, pair) => distributionOf(market, valueOf(market, pair, []).valued);

  const appraise = (market, pair) => {
    const { factors, laid, valued } = valueOf(market, pair);
    const sales = salesOf(market, pair.silhouette);
    const ownSales = market.silhouette_sales[pair.silhouette] ?? 0;
    const steps = waterfall(market, factors);
    const median = Math.exp(valued.centre);
    if (market.trees !== null) {
      const [attribute, value] = market.rules.together_step;
      const standing = { factor: Math.exp(valued.correction), price: median, error: valued.correctionError };
      steps.push({ attribute, value, ...standing, sales: market.records, parts: partsOf(market, laid) });
    }
    return {
      pair,
      median,
      bands: valued.bands,
      start: market.start,
      startPrice: Math.exp(market.fit.coefficients[0]),
      steps,
      comparables: nearestSales(market, laid, sales).map((sale) => adjust(market, factors, sale)),
      inSupport: knowsSilhouette(market, valued, ownSales),
      few: supportOf(market, valued, ownSales) !== null,
      ...saidOf(cautionsOf(market, pair, valued, ownSales)),
    };
  };

  // ---- reading the document

  const bytesOf = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));

  const unpack = (text, Floats) => {
    const bytes = bytesOf(text);
    const view = new DataView(bytes.buffer);
    const size = Floats.BYTES_PER_ELEMENT;
    const read = size === 8 ? (place) => view.getFloat64(place, true) : (place) => view.getFloat32(place, true);
    return Floats.from({ length: bytes.length / size }, (_, number) => read(number * size));
  };

  const openFit = (stored, rules) => {
    const fit = { ...stored, rules, coefficients: unpack(stored.coefficients, Float64Array) };
    fit.terms = stored.terms.map((term) => ({ ...term, levels: new Map(term.keys.map((key, level) => [key, level])) }));
    if (stored.covariance === undefined) return fit;
    fit.covariance = unpack(stored.covariance, Float32Array);
    let filled = 0;
    fit.offset = stored.first.map((first, row) => {
      const offset = filled;
      filled += row < fit.common ? row + 1 : fit.common + row - first + 1;
      return offset;
    });
    return fit;
  };

  const openTrees = (stored) => {
    if (stored === null) return null;
    const bytes = ["question", "left", "right", "unknown"];
    const arrays = Object.entries(stored.arrays).map(([name, text]) => [
      name,
      bytes.includes(name) ? bytesOf(text) : unpack(text, Float32Array),
    ]);
    const questions = stored.questions.map((question) => ({
      ...question,
      answers: new Map(question.answers.map(([position, answer]) => [position, answer ?? NaN])),
    }));
    return { ...stored, ...Object.fromEntries(arrays), questions };
  };

  const open = (document) => ({
    ...document,
    trees: openTrees(document.trees),
    fit: openFit(document.fit, document.rules),
    scatter: openFit(document.scatter, document.rules),
    laidSales: new Map(),
  });

  /* The sales of a silhouette with their design rows and what the fit leaves of each; laid once. */
  const salesOf = (market, silhouette) => {
    if (!market.laidSales.has(silhouette)) market.laidSales.set(silhouette, readSales(market, silhouette));
    return market.laidSales.get(silhouette);
  };

  const readSales = (market, silhouette) => {
    const { of, values } = market.sales;
    if (!Object.hasOwn(of, silhouette)) return [];
    const own = of[silhouette];
    return own.record.map((record, number) => {
      const day = own.day[number];
      const [year, month] = day.split("-").map(Number);
      const factors = { silhouette, month: 12 * year + month - 1 };
      for (const name of Object.keys(values)) factors[name] = values[name][own[name][number]];
      const laid = layRows(market.fit, factors);
      const paid = own.paid[number];
      const residual = Math.log(paid) - logPrice(market.fit, laid);
      return { record, title: own.title[number], venue: factors.venue, day, paid, factors, laid, residual };
    });
  };

  return { open, appraise, valueOf, distribution, fill, onFit, saidOf };
})();
