"use strict";
/* The asking price: what its controls say, and whether to buy, in words. */
const offerOf = ({ stored, form, by, figures, cell }) => {
  if (stored.buying === null) return noOffer(stored);
  const { buying: written, choices, currencies, words: said } = stored;
  const desk = buying.open(written);
  const { ask, at, fee, shipping } = form.elements;
  const money = Object.fromEntries(Object.entries(currencies).map(([code, known]) => [code, figuresFor(known)]));

  // ---- from the controls to an offer

  /* An amount as people write it, as digits with a point: null for none, undefined for what is no amount. */
  const readAmount = (text) => {
    const bare = text.normalize("NFKC").replace(/[\s'’]|\p{Sc}|[A-Za-z]{3}/gu, "");
    if (text.trim() === "") return null;
    if (/^\d{1,9}([.,]\d{1,2})?$/.test(bare)) return bare.replace(",", ".");
    if (/^\d{1,3}(,\d{3}){1,2}(\.\d{1,2})?$/.test(bare)) return bare.replaceAll(",", "");
    if (/^\d{1,3}(\.\d{3}){1,2}(,\d{1,2})?$/.test(bare)) return bare.replaceAll(".", "").replace(",", ".");
    return undefined;
  };

  let lost = null; // a venue that an address names and nobody knows
  const venueNamed = () => (at.value === "" ? null : choices.venues[Number(at.value)]);
  const placeOf = (name) => (name === null ? desk.stall : desk.venues.get(name));

  const read = () => {
    const venue = venueNamed();
    const amounts = { ask: readAmount(ask.value), fee: readAmount(fee.value), shipping: readAmount(shipping.value) };
    if (venue !== null) Object.assign(amounts, { fee: null, shipping: null });
    if (amounts.fee !== null && Number(amounts.fee) > 100) amounts.fee = undefined;
    if (amounts.ask !== null && Number(amounts.ask) === 0) amounts.ask = undefined;
    const faults = Object.keys(amounts).filter((name) => amounts[name] === undefined);
    return { venue, faults, ...Object.fromEntries(Object.entries(amounts).map(([name, text]) => [name, text ?? null])) };
  };

  const NAMES = { ask: "The price", fee: "The fee", shipping: "The shipping" };

  const showControls = (offer) => {
    const place = placeOf(offer.venue);
    const rising = place.kind === "auction";
    by("ask-name").textContent = `${rising ? "Present bid" : "Asking price"}, ${place.currency}`;
    for (const own of form.querySelectorAll(".own")) own.hidden = offer.venue !== null;
    for (const name of Object.keys(NAMES)) form.elements[name].setAttribute("aria-invalid", String(offer.faults.includes(name)));
    const wrong = offer.faults.map((name) => `${NAMES[name]} is no amount above zero (write 120 or 120.50${name === "fee" ? ", at most 100" : ""}); left out.`);
    if (offer.venue !== null) lost = null;
    if (lost !== null) wrong.push(`No venue is called ${figures.words(lost, 80)}: the price is taken as that of a stall.`);
    by("offer-says").textContent = wrong.length ? wrong.join(" ") : placeWords(offer);
  };

  const placeWords = (offer) => {
    if (offer.venue !== null) return "Its buyer's fee, freight, duty and tax are those of the market file.";
    return offer.fee === null && offer.shipping === null ? "Nothing is added to the price." : "";
  };

  // ---- the address keeps the offer

  const keep = (kept, offer) => {
    if (offer.venue !== null) kept.set("at", offer.venue);
    for (const name of Object.keys(NAMES)) if (offer[name] !== null) kept.set(name, offer[name]);
  };

  const restore = (kept) => {
    const number = choices.venues.indexOf(kept.get("at"));
    lost = number < 0 ? kept.get("at") : null;
    at.value = number < 0 ? "" : String(number);
    for (const name of Object.keys(NAMES)) form.elements[name].value = kept.get(name) ?? "";
  };

  // ---- the answer

  /* pipeline/answers/lots/tables.py: a chance of loss; at the ends of what is tabulated only that it is beyond them. */
  const chanceWords = (chance) => {
    const [least, most] = [desk.chances[0], desk.chances.at(-1)];
    if (chance <= least + 1e-9) return "under 3\u00a0%";
    return chance >= most - 1e-9 ? "over 97\u00a0%" : figures.level(chance);
  };

  /* A bid rises to its maximum, a price is paid. */
  const rising = (weighed) => weighed.place.kind === "auction";
  const mostName = (weighed) => (rising(weighed) ? "maximum bid" : "most to pay");
  const capital = (text) => `${text.charAt(0).toUpperCase()}${text.slice(1)}`;

  const mostWords = (weighed) => (weighed.most > 0 ? money[weighed.place.currency].amount(weighed.most) : "nothing");

  const headline = (offer, weighed) => {
    if (weighed.why) return ["Cost unknown", `: ${figures.words(weighed.why)}`];
    const most = `${mostName(weighed)} ${mostWords(weighed)}`;
    const doubts = weighed.verdict === "look first" ? ` (${weighed.flags.filter((flag) => desk.lookFirst.includes(flag)).join(", ")})` : "";
    if (weighed.verdict === null) return ["", capital(most)];
    const asked = money[weighed.place.currency].amount(Number(offer.ask));
    const verdict = rising(weighed) && weighed.verdict === "buy" ? "bid" : weighed.verdict;
    return [capital(verdict), `${doubts} at ${asked}: ${most}, chance of a loss ${chanceWords(weighed.loss)}`];
  };

  const factsOf = (offer, weighed) => {
    const native = money[weighed.place.currency];
    const { terms } = desk;
    const facts = [[capital(mostName(weighed)), mostWords(weighed)]];
    if (weighed.mostLanded !== null) facts.push([`Cost at the ${mostName(weighed)}`, figures.amount(weighed.mostLanded)]);
    facts.push(["Net of the resale", figures.estimate(weighed.net)]);
    if (weighed.verdict === null) return facts;
    const margin = `Margin in ${figures.level(terms.confidence)} of outcomes (${figures.level(terms.margin)} wanted)`;
    return [
      ["Asked", native.amount(Number(offer.ask))],
      ["All-in", native.amount(weighed.allIn)],
      [rising(weighed) ? "Cost if won now" : "Cost if bought", figures.amount(weighed.landed)],
      ...facts,
      ["Expected gain", figures.change(weighed.gain, weighed.landed)],
      [margin, weighed.margin === null || weighed.margin <= 0 ? "none" : figures.level(weighed.margin)],
      ["Chance of a loss", chanceWords(weighed.loss)],
    ];
  };

  const hide = () => {
    by("verdict").replaceChildren();
  };

  /* Say whether to buy: `distributionAt` gives the price's distribution at a venue. */
  const show = (offer, distributionAt, { few, bare }) => {
    const weighed = buying.weigh(desk, offer, distributionAt, few, bare);
    const [verdict, rest] = headline(offer, weighed);
    const strong = document.createElement("strong");
    strong.textContent = verdict;
    by("verdict").replaceChildren(...(verdict ? [strong] : []), rest);
    by("verdict").dataset.verdict = weighed.verdict ?? "";
    const facts = weighed.why ? [] : factsOf(offer, weighed);
    by("offer-facts").replaceChildren(
      ...facts.map(([name, text]) => {
        const fact = document.createElement("div");
        fact.append(cell("dt", name), cell("dd", text));
        return fact;
      }),
    );
    const resold = desk.terms.sells_at === null && offer.venue === null ? said.stall_resale : "";
    const flags = weighed.flags.map((flag) => `${flag.charAt(0).toUpperCase()}${flag.slice(1)}.`);
    by("offer-notes").replaceChildren(...[...flags, resold, said.limit_not_target].filter(Boolean).map((text) => cell("li", text)));
    return { ...weighed, headline: `${verdict}${rest}` };
  };

  const currencyOf = ({ venue }) => placeOf(venue).currency;

  return { read, currencyOf, showControls, keep, restore, show, hide, chanceWords };
};

/* A page that carries no rule of buying has no asking price and says nothing of one. */
const noOffer = (stored) => {
  const none = { venue: null, faults: [], ask: null, fee: null, shipping: null };
  const nothing = () => {};
  return {
    read: () => none,
    currencyOf: () => stored.money.currency,
    show: () => ({ headline: "" }),
    ...{ showControls: nothing, keep: nothing, restore: nothing, hide: nothing },
  };
};
