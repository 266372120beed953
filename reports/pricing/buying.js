"use strict";
/* The arithmetic of buying, as pipeline/ has it: each part says which module it mirrors. It reads what
   reports/pricing/buying.py writes and touches no page. Amounts are whole numbers (BigInt), in the units that the Python
   has: 10**-points of the venue's currency, or minor units of the base currency. */
const buying = (() => {
  // ---- pipeline/fees/schedule.py: the fee on a price

  const wholeDown = (dividend, divisor) => {
    const quotient = dividend / divisor;
    return dividend % divisor < 0n ? quotient - 1n : quotient;
  };

  const divideHalfUp = (dividend, divisor) => wholeDown(2n * dividend + divisor, 2n * divisor);

  const chargesOn = (fees, hammer, base, rate) => {
    const fee = divideHalfUp(base + rate * hammer, fees.ratio * fees.unit);
    return fee * fees.unit + divideHalfUp(fee * fees.tax, fees.taxRatio) * fees.unit;
  };

  const chargeOf = (fees, hammer) => {
    const { base, rate } = fees.pieces.find((piece) => hammer <= piece.upTo) ?? fees.pieces.at(-1);
    return chargesOn(fees, hammer, base, rate);
  };

  const shareSchedule = ([share, ratio], unit, largest) => ({
    pieces: [{ above: -1n, upTo: largest, base: 0n, rate: share }],
    ratio,
    unit,
    tax: 0n,
    taxRatio: 1n,
  });

  // ---- pipeline/fees/inverse.py: from an all-in price back to the hammer price

  const NONE = -1n;

  /* Each piece of the fees within each rung of the bids, and by how many steps rounding can move the answer. */
  const linesOf = (fees, rungs) => {
    const lines = [];
    let furthest = 1n;
    const taxed = fees.tax + fees.taxRatio;
    for (const piece of fees.pieces) {
      const slope = fees.ratio * fees.taxRatio + piece.rate * taxed;
      for (const rung of rungs) {
        const first = wholeDown(piece.above > rung.above ? piece.above : rung.above, rung.step) + 1n;
        const last = wholeDown(piece.upTo < rung.upTo ? piece.upTo : rung.upTo, rung.step);
        if (first > last) continue;
        lines.push({ first, last, step: rung.step, base: piece.base, rate: piece.rate, slope, taxed });
        const spread = -wholeDown(-3n * fees.unit * fees.ratio * fees.taxRatio, 2n * rung.step * slope);
        if (spread > furthest) furthest = spread;
      }
    }
    return { lines, furthest };
  };

  const hammersBehind = (amount, fees, rungs) => {
    const { lines, furthest } = linesOf(fees, rungs);
    let within = NONE;
    let exact = NONE;
    for (const { first, last, step, base, rate, slope, taxed } of lines) {
      const near = wholeDown(wholeDown(amount * fees.ratio * fees.taxRatio - base * taxed, slope), step);
      for (let shift = -furthest; shift <= furthest; shift += 1n) {
        const moved = near + shift;
        const hammer = (moved < first ? first : moved > last ? last : moved) * step;
        const short = amount - hammer - chargesOn(fees, hammer, base, rate);
        if (short >= 0n && hammer > within) within = hammer;
        if (short === 0n && hammer > exact) exact = hammer;
      }
    }
    return { within, best: exact === NONE ? within : exact };
  };

  const everyPrice = (fees, largest) => [{ above: -1n, upTo: largest, step: fees.unit }];

  // ---- pipeline/fees/bids.py: the valid bids of a venue

  const highestBid = (limit, fees, rungs) => {
    const { within } = hammersBehind(limit, fees, rungs);
    return within === NONE ? 0n : within;
  };

  const nextBid = (bid, rungs) => {
    let next = 0n;
    for (const { above, upTo, step } of [...rungs].reverse()) {
      const [own, start] = [wholeDown(bid, step) + 1n, wholeDown(above, step) + 1n];
      const candidate = (own > start ? own : start) * step;
      if (candidate <= upTo) next = candidate;
    }
    return next;
  };

  // ---- pipeline/answers/lots/landed.py: what a price costs by the time the pair is in the shop

  const inBase = (place, native) => BigInt(Math.floor(Number(native) / place.pointsPerMinor + 0.5));

  const allIn = (place, hammer) => hammer + chargeOf(place.fees, hammer);

  const landedCost = (place, hammer) => {
    let cost = inBase(place, allIn(place, hammer)) + place.freight;
    for (const charge of place.charges) cost += chargeOf(charge, cost);
    return cost;
  };

  const greatestBid = (desk, place, limit) => {
    let left = limit;
    for (const charge of [...place.charges].reverse()) {
      left = hammersBehind(left, charge, everyPrice(charge, desk.largest)).within;
    }
    left -= place.freight;
    const most = 2 * Number(desk.most);
    const reached = Math.min(Math.max((Number(left) + 0.5) * place.pointsPerMinor, -1), most);
    let native = BigInt(Math.trunc(reached)) + 1n;
    for (let round = 0; round < 2; round += 1) if (inBase(place, native) > left) native -= 1n;
    return highestBid(native, place.fees, place.rungs);
  };

  // ---- pipeline/answers/lots/resale.py: what an all-in price leaves its seller

  const toEven = (value) => {
    const below = Math.floor(value);
    return value - below === 0.5 ? below + (below % 2) : Math.round(value);
  };

  const cents = (desk, value) => BigInt(toEven(value * 100)) * 10n ** BigInt(desk.points - 2);

  const leftOf = (desk, place, price) => {
    if (place.resale === null) return price; // the owner's own shop, or a stall
    const { rate, resale } = place;
    const units = 10 ** desk.points;
    let hammer = price * rate;
    if (resale.buyer !== null) {
      const found = hammersBehind(cents(desk, hammer), resale.buyer, everyPrice(resale.buyer, desk.largest)).best;
      hammer = found === NONE ? 0 : Number(found) / units;
    }
    if (resale.seller === null) return hammer / rate;
    const whole = cents(desk, hammer);
    return Number(whole - chargeOf(resale.seller, whole)) / units / rate;
  };

  /* The fees are exact at prices evenly spaced in log; a curve is worked out once a venue. */
  const netCurve = (desk, place) => {
    if (desk.curves.has(place)) return desk.curves.get(place);
    const { lowest, highest, points } = desk.curve;
    const step = Math.log(highest / lowest) / (points - 1);
    const prices = Float64Array.from({ length: points }, (_, at) => lowest * Math.exp(at * step));
    const nets = prices.map((price) => leftOf(desk, place, price));
    const rising = nets.slice();
    for (let at = points - 2; at >= 0; at -= 1) rising[at] = Math.min(rising[at], rising[at + 1]);
    const between = (from, to, sought) => {
      if (sought < from[0]) return to[0];
      let [low, high] = [0, points];
      while (low < high) {
        const middle = (low + high) >> 1;
        if (sought >= from[middle]) low = middle + 1;
        else high = middle;
      }
      const at = low - 1;
      if (at === points - 1 || from[at] === sought) return to[at];
      return ((to[at + 1] - to[at]) / (from[at + 1] - from[at])) * (sought - from[at]) + to[at];
    };
    const curve = {
      net: (sold) => {
        const inside = Math.min(Math.max(sold, prices[0]), prices[points - 1]);
        return between(prices, nets, inside) * (sold / inside);
      },
      /* The least price from which on no price leaves less: where fees leap, a higher one may. */
      priceLeaving: (left) => between(rising, prices, left),
    };
    desk.curves.set(place, curve);
    return curve;
  };

  // ---- pipeline/answers/lots/answer.py: the money of one lot

  const moneyOf = (desk, place, resale, here, there, ask) => {
    const { margin, confidence, costs } = desk.terms;
    const minor = 10 ** desk.baseDigits;
    const curve = netCurve(desk, resale);
    const cautious = curve.net(Math.exp(there.quantile(1 - confidence))) - costs;
    const limit = (1 - margin) * cautious;
    const most = greatestBid(desk, place, BigInt(Math.floor(Math.max(limit, 0) * minor)));
    const units = 10 ** desk.points;
    const net = there.expect(curve.net) - costs;
    const money = { net, most: Number(most) / units, mostLanded: most > 0n ? Number(landedCost(place, most)) / minor : null };
    if (ask === null) return { ...money, allIn: null, landed: null, gain: null, margin: null, loss: null, affordable: null, cheap: false };
    const paid = allIn(place, ask);
    const landed = Number(landedCost(place, ask)) / minor;
    const breakEven = Math.log(Math.max(curve.priceLeaving(landed + costs), 1e-9));
    const rising = place.kind === "auction";
    const paidInBase = Number(paid) / (place.pointsPerMinor * minor);
    return {
      ...money,
      allIn: Number(paid) / units,
      landed,
      gain: net - landed,
      margin: cautious > 0 ? 1 - landed / cautious : null,
      loss: there.chanceBelow(breakEven),
      affordable: (rising ? nextBid(ask, place.rungs) : ask) <= most,
      cheap: !rising && paidInBase < Math.exp(here.quantile(desk.cheap)),
    };
  };

  // ---- reading the document, and what the reader adds to it

  const readSchedule = (stored) => ({
    pieces: stored.pieces.map(([above, upTo, base, rate]) => ({
      above: BigInt(above),
      upTo: BigInt(upTo),
      base: BigInt(base),
      rate: BigInt(rate),
    })),
    ratio: BigInt(stored.ratio),
    unit: BigInt(stored.unit),
    tax: BigInt(stored.tax),
    taxRatio: BigInt(stored.tax_ratio),
  });

  const readPlace = (stored) => {
    const stated = { kind: stored.kind, why: stored.why, currency: stored.currency, resale: null };
    if (stored.fees === undefined) return stated;
    const resale = stored.resale;
    return {
      ...stated,
      rate: stored.rate ?? 1,
      fees: readSchedule(stored.fees),
      rungs: stored.rungs.map(([above, upTo, step]) => ({ above: BigInt(above), upTo: BigInt(upTo), step: BigInt(step) })),
      pointsPerMinor: stored.points_per_minor,
      freight: BigInt(stored.freight),
      charges: stored.charges.map(readSchedule),
      resale:
        resale === undefined || stored.kind === "shop"
          ? null
          : {
              buyer: resale.buyer === null ? null : readSchedule(resale.buyer),
              seller: resale.seller === null ? null : readSchedule(resale.seller),
            },
    };
  };

  const open = (document) => ({
    terms: document.terms,
    venues: new Map(Object.entries(document.venues).map(([name, stored]) => [name, readPlace(stored)])),
    stall: readPlace(document.stall),
    points: document.points,
    most: BigInt(document.most_points),
    largest: BigInt(document.largest_points),
    baseDigits: document.base_digits,
    chances: document.chances,
    cheap: document.cheap,
    flags: document.flags,
    lookFirst: document.look_first,
    curve: document.curve,
    curves: new WeakMap(),
  });

  /* A text of plain digits with a point, in units of 10**-decimals. */
  const toWhole = (text, decimals) => {
    const [whole, part = ""] = text.split(".");
    return BigInt(whole + part.slice(0, decimals).padEnd(decimals, "0"));
  };

  /* The stall with a fee (per cent, as text) and shipping (as text) of its own. */
  const stallWith = (desk, fee, shipping) => {
    const unit = 10n ** BigInt(desk.points - desk.baseDigits);
    const fees = fee === null ? desk.stall.fees : shareSchedule([toWhole(fee, 4), 10n ** 6n], unit, desk.largest);
    const freight = shipping === null ? 0n : toWhole(shipping, desk.baseDigits);
    return { ...desk.stall, fees, freight };
  };

  /* What buying a pair comes to. `distributionAt` gives the distribution of its price at a venue, null for none named;
     `offer` is {venue, ask, fee, shipping}, amounts as text or null. */
  const weigh = (desk, offer, distributionAt, few, bare) => {
    const place = offer.venue === null ? stallWith(desk, offer.fee, offer.shipping) : desk.venues.get(offer.venue);
    const { sells_at: sellsAt } = desk.terms;
    const resale = sellsAt === null ? place : desk.venues.get(sellsAt);
    const why = place.why || (resale.fees === undefined ? resale.why : "");
    if (why) return { why, place, flags: [], verdict: "cost unknown" };
    const here = distributionAt(offer.venue);
    const there = sellsAt === null ? here : distributionAt(sellsAt);
    const ask = offer.ask === null ? null : toWhole(offer.ask, desk.points);
    const money = moneyOf(desk, place, resale, here, there, ask);
    const marks = { few, cheap: money.cheap, bare };
    const flags = Object.keys(marks).filter((name) => marks[name]).map((name) => desk.flags[name]);
    return { ...money, why: "", place, flags, verdict: verdictOf(desk, money, flags) };
  };

  const verdictOf = (desk, money, flags) => {
    if (money.affordable === null) return null;
    if (!money.affordable) return "pass";
    return flags.some((flag) => desk.lookFirst.includes(flag)) ? "look first" : "buy";
  };

  return { open, weigh };
})();
