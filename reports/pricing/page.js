"use strict";
/* The pricing page: what the controls say becomes a pair, its appraisal becomes the page; the address keeps the pair. */
(() => {
  const stored = JSON.parse(document.getElementById("pricing-document").textContent);
  const { choices, words: said, sizes, rules, read } = stored;
  const market = valuation.open(stored);
  const figures = figuresFor(stored.money);
  const by = (id) => document.getElementById(id);
  const form = by("pair");
  const { silhouette, colourway, era, grade, size, system, box, tags, overlay, venue } = form.elements;
  const LISTS = [...form.querySelectorAll("fieldset[data-list]")];
  const PICKED = { era: choices.eras.map(([name]) => name), grade: choices.grades.map(([number]) => number) };
  Object.assign(PICKED, { box: choices.boxes, tags: choices.tags, overlay: choices.overlays, venue: choices.venues });
  const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

  // ---- from the controls to a pair

  const picked = (control, values) => (control.value === "" ? null : (values[Number(control.value)] ?? null));
  const silhouetteNamed = () => (silhouette.value === "other" ? choices.other : picked(silhouette, choices.silhouettes));
  const colourwaysOf = (name) => choices.colourways[name] ?? [];

  const { fold, sizeReader } = wordsAndSizes;
  const sizeOf = sizeReader(sizes);
  const meant = (words, text) => (Object.hasOwn(words, fold(text)) ? words[fold(text)] : text);

  const readList = (fieldset) => {
    const checked = [...fieldset.querySelectorAll("input:checked")].map((input) => input.value);
    if (!checked.length) return null;
    const names = choices[fieldset.dataset.list];
    return checked.filter((value) => value !== "").map((value) => names[Number(value)]).sort();
  };

  const readPair = () => {
    const name = silhouetteNamed();
    const { label, foot, fault, offers } = sizeOf(size.value, choices.systems[Number(system.value)], sizes.charts[name] ?? {});
    const pair = { silhouette: name, colourway: picked(colourway, colourwaysOf(name)), parts: null, defects: null, treatments: null };
    for (const [key, values] of Object.entries(PICKED)) pair[key] = picked(form.elements[key], values);
    for (const fieldset of LISTS) pair[fieldset.dataset.list] = readList(fieldset);
    return { ...pair, ...doubting.read(), foot_mm: foot, size_label: label, fault, offers };
  };

  const fillColourways = () => {
    const options = [["", "not known"], ...colourwaysOf(silhouetteNamed()).map((name, number) => [number, figures.words(name, 120)])];
    colourway.replaceChildren(...options.map(([value, text]) => new Option(text, value)));
  };

  // ---- the address keeps the pair, in the words of the command's options

  const addressOf = (pair, offer) => {
    const kept = new URLSearchParams();
    for (const key of ["silhouette", "colourway", ...Object.keys(PICKED)]) if (pair[key] !== null) kept.set(key, pair[key]);
    if (pair.size_label !== null) kept.set("size", pair.size_label);
    for (const { dataset } of LISTS) {
      const listed = pair[dataset.list];
      if (listed !== null) kept.set(dataset.list, listed.length ? listed.join(",") : "none");
    }
    doubting.keep(kept, pair);
    offering.keep(kept, offer);
    return kept.toString();
  };

  const keep = (pair, offer) => {
    const address = addressOf(pair, offer);
    history.replaceState(null, "", address ? `#${address}` : location.href.split("#")[0]);
  };

  const restore = () => {
    const kept = new URLSearchParams(location.hash.slice(1));
    const choose = (control, values, words, value) => {
      const numbered = (text) => values.findIndex((known) => String(known) === text);
      const exact = value === null ? -1 : numbered(value);
      const number = value === null || exact >= 0 ? exact : numbered(meant(words, value));
      control.value = number < 0 ? "" : String(number);
    };
    const named = kept.get("silhouette");
    choose(silhouette, choices.silhouettes, read.silhouette, named);
    if (named !== null && silhouette.value === "") silhouette.value = "other";
    offering.restore(kept);
    fillColourways();
    choose(colourway, colourwaysOf(silhouetteNamed()), read.colourways[silhouetteNamed()] ?? {}, kept.get("colourway"));
    for (const [key, values] of Object.entries(PICKED)) choose(form.elements[key], values, read[key], kept.get(key));
    doubting.restore(kept, (word) => meant(read.era, word));
    const label = kept.get("size") ?? "";
    const used = choices.systems.find((one) => label.startsWith(`${one} `));
    size.value = used === undefined ? label : label.slice(used.length + 1);
    system.value = String(Math.max(choices.systems.indexOf(used), 0));
    for (const fieldset of LISTS) {
      const words = read[fieldset.dataset.list];
      const listed = kept.has(fieldset.dataset.list) ? kept.get(fieldset.dataset.list).split(",").map((word) => meant(words, word)) : [];
      for (const input of fieldset.querySelectorAll("input")) {
        input.checked = listed.includes(input.value === "" ? "none" : choices[fieldset.dataset.list][Number(input.value)]);
      }
    }
  };

  // ---- the answer

  const put = (id, text) => {
    by(id).textContent = text;
  };
  const shown = (value, title = rules.unknown) => (value === null ? title : figures.words(String(value), 120));
  const listShown = (listed) => {
    if (listed === null) return "not known";
    return listed.length ? figures.words(listed.join(", "), 240) : "none found";
  };
  const headingOf = (pair) => figures.words([pair.silhouette, pair.colourway].filter(Boolean).join(" "), 120);
  const footOf = (length) => {
    const valued = rules.size_step * Math.round(length / rules.size_step);
    return `${length} mm foot${valued === length ? "" : ` (valued as ${valued} mm)`}`;
  };

  const factsOf = (pair) => [
    ["Silhouette", shown(pair.silhouette)],
    ["Colourway", shown(pair.colourway, "not known")],
    ["Era", pair.odds === null ? shown(pair.era, "not known") : figures.words(doubting.oddsWords(pair.odds), 240)],
    ["Size", pair.size_label === null ? "not known" : `${pair.size_label}, ${footOf(pair.foot_mm)}`],
    ["Grade", pair.grade === null ? "not known" : `${pair.grade} of 10`],
    ["Box", shown(pair.box, "not known")],
    ["Tags", shown(pair.tags, "not known")],
    ["Overlay", shown(pair.overlay, "not known")],
    ["Other parts", listShown(pair.parts)],
    ["Defects", listShown(pair.defects)],
    ["Treatments", listShown(pair.treatments)],
    ["Venue", shown(pair.venue, "any")],
  ];
  const bandAt = (value, level) => value.bands.find((band) => band.level === level);
  const source = `${said.source}, as of ${said.as_of}.`;

  const sentenceOf = (value) => {
    if (value.eras) return doubting.sentenceOf(value, bandAt(value, 0.8));
    const band = bandAt(value, 0.8);
    const parts = { median: figures.estimate(value.median), low: figures.estimate(band.low), high: figures.estimate(band.high) };
    return valuation.fill(value.inSupport ? said.answer : said.answer_outside, parts);
  };

  const cell = (kind, text, isFigure) => {
    const made = document.createElement(kind);
    const words = document.createElement("bdi");
    words.textContent = text;
    made.append(words);
    if (isFigure) made.className = "figure";
    return made;
  };
  /* Fill a table: headings are [text, is a figure]; the first column heads each row. */
  const fillTable = (table, caption, headings, rows) => {
    const title = table.createCaption();
    title.className = "unseen";
    title.id = `${table.id.replace("table", "caption")}`;
    title.textContent = caption;
    const head = document.createElement("tr");
    for (const [text, isFigure] of headings) {
      const heading = cell("th", text, isFigure);
      heading.scope = "col";
      head.append(heading);
    }
    const lines = rows.map((texts) => {
      const line = document.createElement("tr");
      line.append(...texts.map((text, column) => cell(column ? "td" : "th", text, headings[column][1])));
      line.firstElementChild.scope = "row";
      return line;
    });
    (table.tHead ?? table.createTHead()).replaceChildren(head);
    (table.tBodies[0] ?? table.createTBody()).replaceChildren(...lines);
    return table;
  };

  const offering = offerOf({ stored, form, by, figures, cell });
  const doubting = doubtOf({ stored, form, by, figures, fillTable });

  const showBand = (value) => {
    const claim = value.inSupport ? "sell within" : "as a guess";
    const strip = figures.counted(value.comparables.length, "comparable sale");
    const rows = [
      { words: "Median", figure: figures.estimate(value.median), marks: [{ kind: "diamond", at: value.median }] },
      ...value.bands.map((band) => ({
        words: `${said.bands[band.level]} ${claim} (${figures.level(band.level)})`,
        figure: figures.range(band),
        marks: [{ kind: "bar", style: `band-${Math.round(100 * band.level)}`, from: band.low, to: band.high, title: figures.range(band) }],
      })),
      {
        words: value.comparables.length ? `${strip}, adjusted to this pair` : said.no_dots,
        figure: "",
        marks: value.comparables.map((sale) => ({
          kind: "dot",
          at: sale.adjusted,
          title: `${figures.words(sale.title, said.title_words)}, ${figures.day(sale.day)}: ${figures.amount(sale.paid)} paid, ${figures.estimate(sale.adjusted)} adjusted`,
        })),
      },
    ];
    const spoken = value.bands.map((band) => `${figures.level(band.level)}: ${figures.range(band)}`).join("; ");
    drawRows(by("chart-band"), {
      rows,
      prices: [value.median, ...value.bands.flatMap((band) => [band.low, band.high])],
      others: value.comparables.map((sale) => sale.adjusted),
      rule: value.median,
      title: `Price paid, all-in (${stored.money.currency})`,
      alternative: `Bands of the price about a median of ${figures.estimate(value.median)}. ${spoken}. ${strip} beneath.`,
      money: figures.count,
    });
    const dots = value.comparables.length ? " Dots: comparable sales, adjusted." : "";
    const hollow = value.weak.length ? " Hollow, dashed bars: the evidence is weak." : "";
    put("note-band", `Dashed line: the median.${dots}${hollow} ${source}`);
    fillTable(
      by("table-band"),
      "The bands: how often such a pair sells within them",
      [["Band", false], ["Sells within", false], ["From", true], ["To", true]],
      value.bands.map((band) => [figures.level(band.level), said.bands[band.level], figures.estimate(band.low), figures.estimate(band.high)]),
    );
  };

  const known = (value) => (value === rules.unknown ? "not known" : value);

  const partsWords = (parts) => {
    const named = parts.filter(({ factor }) => Math.abs(factor - 1) >= rules.least_part);
    named.sort((one, other) => Math.abs(Math.log(other.factor)) - Math.abs(Math.log(one.factor)));
    const said = named.map(({ name, factor }) => `${name || "in every pair"} ${figures.percentChange(factor)}`);
    return said.join(", ") || "next to nothing each";
  };

  const showWaterfall = (value) => {
    let before = value.startPrice;
    const prices = [value.startPrice, value.median];
    const rows = [{ words: `Start: ${figures.words(value.start, 200)}`, figure: figures.estimate(value.startPrice), marks: [{ kind: "link", at: before }, { kind: "diamond", at: before }] }];
    const lines = [];
    for (const step of value.steps) {
      const [low, high] = [step.price * Math.exp(-step.error), step.price * Math.exp(step.error)];
      const stated = `${capital(step.attribute)}: ${known(step.value)}${step.sales ? "" : " (no sale)"}`;
      const whole = step.parts ? `${stated} (${partsWords(step.parts)})` : stated;
      const words = figures.words(whole, 120);
      const percent = figures.percentChange(step.factor);
      const money = figures.change(step.price - before, before);
      const style = step.sales === 0 ? "guess" : step.factor < 1 ? "fall" : "rise";
      const spread = `${figures.percentChange(step.factor * Math.exp(-step.error))} to ${figures.percentChange(step.factor * Math.exp(step.error))}`;
      rows.push({
        words,
        figure: `${percent}  (${money})`,
        marks: [
          { kind: "link", at: step.price },
          { kind: "bar", style, from: before, to: step.price, title: `${words}: ${percent}, ± one s.e. ${spread}` },
          { kind: "line", from: low, to: high },
        ],
      });
      lines.push([step.parts ? whole : words, percent, money, figures.estimate(step.price), spread, figures.count(step.sales)]);
      prices.push(step.price, low, high);
      before = step.price;
    }
    rows.push({ words: "This pair", figure: figures.estimate(value.median), marks: [{ kind: "diamond", at: value.median }] });
    put("start", `It starts from ${figures.estimate(value.startPrice)} (${figures.words(value.start)}). Each line multiplies the price by what buyers paid for that attribute.`);
    drawRows(by("chart-waterfall"), {
      rows,
      prices,
      title: `Running price, all-in (${stored.money.currency})`,
      alternative: `Steps from the start to this pair: ${lines.map(([words, percent]) => `${words} ${percent}`).join("; ")}.`,
      money: figures.count,
    });
    put("note-waterfall", `On the right: the step in per cent and in money. Thin line: one standard error either way. Dashed box: no sale behind it. ${source}`);
    fillTable(
      by("table-waterfall"),
      "What makes the price, step by step",
      [["Step", false], ["Effect", true], ["In money", true], ["Price after", true], ["± 1 standard error", true], ["Sales", true]],
      lines,
    );
  };

  /* The parts of a sentence; text between backticks is set as code. */
  const withCode = (sentence) =>
    sentence.split("`").map((part, number) => {
      const made = document.createElement(number % 2 ? "code" : "span");
      made.textContent = part;
      return made;
    });

  const opened = new Set();
  const showComparables = (value) => {
    const sales = value.comparables;
    by("near").hidden = !sales.length;
    if (!sales.length) {
      by("found").replaceChildren(...withCode(said.no_comparables));
      return;
    }
    put(
      "found",
      `${figures.counted(sales.length, "past sale")}, nearest first. Each is what was paid, then adjusted to this pair and to the market today.`,
    );
    const band = bandAt(value, 0.8);
    drawRows(by("chart-comparables"), {
      rows: [
        {
          words: `This pair, ${figures.level(band.level)} band`,
          figure: figures.range(band),
          marks: [{ kind: "bar", style: "band-80", from: band.low, to: band.high, title: figures.range(band) }],
        },
        ...sales.map((sale, number) => ({
          words: figures.words(`${number + 1}. ${figures.day(sale.day)}, ${sale.venue ?? "venue not known"}`, 90),
          figure: figures.estimate(sale.adjusted),
          marks: [
            { kind: "line", style: "thin", from: sale.paid, to: sale.adjusted },
            { kind: "dot", style: "paid", at: sale.paid, title: `${figures.words(sale.title, said.title_words)}: ${figures.amount(sale.paid)} paid` },
            { kind: "dot", at: sale.adjusted, title: `${figures.estimate(sale.adjusted)} adjusted` },
          ],
        })),
      ],
      prices: [value.median, band.low, band.high],
      others: sales.flatMap((sale) => [sale.paid, sale.adjusted]),
      rule: value.median,
      title: `Price, all-in (${stored.money.currency})`,
      alternative: `Comparable sales, paid and adjusted: ${sales.map((sale) => `${figures.words(sale.title, said.title_words)}, paid ${figures.amount(sale.paid)}, adjusted ${figures.estimate(sale.adjusted)}`).join("; ")}.`,
      money: figures.count,
    });
    put("note-comparables", `Hollow: paid. Filled: adjusted to this pair (the amount on the right). Bar: the 80\u00a0% band; dashed: the median. ${source}`);
    fillTable(
      by("table-comparables"),
      "The nearest sales, adjusted to this pair",
      [["Sold on", false], ...["Model", "Era", "Size", "Grade", "Box"].map((heading) => [heading, false]), ["Paid", true], ["Adjusted", true], ["By", true], ["Venue", false]],
      sales.map((sale) => [
        figures.day(sale.day),
        ...sale.about.map((text) => (text === null ? "–" : figures.words(text, 60))),
        figures.amount(sale.paid),
        figures.estimate(sale.adjusted),
        figures.percentChange(sale.adjusted / sale.paid),
        figures.words(sale.venue ?? "", 90),
      ]),
    );
    by("sales").replaceChildren(...sales.map(saleLines));
  };

  const leftOver = (residual) => {
    const size = figures.percentChange(Math.exp(residual));
    if (figures.isZero(size)) return "Left unexplained: nothing; it sold at its fair value.";
    if (size.startsWith("×")) return `Left unexplained: it sold at ${size} its fair value.`;
    return `Left unexplained: it sold ${size.slice(1)} ${residual > 0 ? "above" : "below"} its fair value.`;
  };

  const paragraph = (text) => {
    const made = document.createElement("p");
    made.textContent = text;
    return made;
  };

  const saleLines = (sale, number) => {
    const details = document.createElement("details");
    details.className = "sale prints";
    details.open = opened.has(sale.record);
    details.addEventListener("toggle", () => (details.open ? opened.add(sale.record) : opened.delete(sale.record)));
    const summary = document.createElement("summary");
    const listed = figures.words(sale.title, said.title_words) || "(no title)";
    const called = ["", "", "", "grade ", "box "];
    const name = sale.about.flatMap((text, at) => (text === null ? [] : [called[at] + figures.words(text, 60)])).join(" · ");
    const title = cell("span", `${number + 1}. ${name || listed}`);
    title.className = "title";
    const sum = cell("span", `${figures.amount(sale.paid)} → ${figures.estimate(sale.adjusted)}`);
    sum.className = "sum";
    summary.append(title, sum);
    details.append(
      summary,
      cell("p", `Listed as ${listed}`),
      paragraph(`Sold ${figures.day(sale.day)} at ${figures.words(sale.venue ?? "", 80) || "(venue not known)"} for ${figures.amount(sale.paid)}, all-in. Record ${figures.words(sale.record, 80)}.`),
    );
    if (sale.adjustments.length) {
      const scrolls = document.createElement("div");
      scrolls.className = "scrolls";
      scrolls.tabIndex = 0; // a narrow screen scrolls it, by keyboard too
      scrolls.setAttribute("role", "region");
      scrolls.setAttribute("aria-label", `How sale ${number + 1} is adjusted`);
      const lines = sale.adjustments.map((line) => [capital(line.attribute), figures.words(known(line.theirs)), figures.words(known(line.ours)), figures.percentChange(line.factor)]);
      const headings = [["Attribute", false], ["This sale", false], ["The pair", false], ["Adjusts by", true]];
      scrolls.append(fillTable(document.createElement("table"), "How it is adjusted to this pair", headings, lines));
      details.append(scrolls);
    } else {
      details.append(paragraph("Nothing to adjust: to the model it is the same as this pair."));
    }
    details.append(paragraph(leftOver(sale.residual)));
    return details;
  };

  const textOf = (value) => {
    const bands = value.bands.map((band) => `${figures.level(band.level)} band ${figures.range(band)}`);
    const facts = factsOf(value.pair).slice(2).map(([name, text]) => `${name}: ${text}`);
    return [
      headingOf(value.pair),
      ...(value.weak.length ? [`! Weak evidence: ${weaknessNames(value)}.`] : []),
      sentenceOf(value),
      `Median ${value.weak.length ? "about " : ""}${figures.estimate(value.median)}, all-in, on ${said.as_of}. ${bands.join("; ")}.`,
      ...[value.bought.headline].filter(Boolean),
      "",
      ...facts,
      "",
      ...value.cautions.map((caution) => `! ${figures.words(caution)}`),
      source,
      ...said.limits,
    ].join("\n");
  };

  /* A sentence as a list entry. */
  const listed = (sentence) => {
    const entry = cell("li", "");
    entry.firstElementChild.append(...withCode(sentence));
    return entry;
  };

  const showFacts = (pair) => {
    const parts = factsOf(pair).map(([name, text]) => {
      const fact = document.createElement("div");
      fact.append(cell("dt", name), cell("dd", text));
      return fact;
    });
    by("facts").replaceChildren(...parts);
  };

  const button = (text, press) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.addEventListener("click", press);
    return made;
  };

  /* A button that reads the number in another system. */
  const sizeButton = (offer) =>
    button(`Use ${offer.system === "mm" ? `${offer.number} mm` : `${offer.system} ${offer.number}`}`, () => {
      system.value = String(choices.systems.indexOf(offer.system));
      size.value = offer.number;
      update();
      size.focus();
    });

  const showStates = (pair) => {
    for (const fieldset of LISTS) {
      fieldset.querySelector(".state").textContent = pair[fieldset.dataset.list] === null ? "not known" : "";
    }
    put("foot", pair.fault || (pair.foot_mm === null ? "" : `${pair.foot_mm} mm foot`));
    by("size-offers").replaceChildren(...pair.offers.map(sizeButton));
    doubting.showControls(pair);
    size.setAttribute("aria-invalid", pair.fault ? "true" : "false");
  };

  /* Why a value is weak, in few words, each once. */
  const weaknessNames = (value) => [...new Set(value.weak.map(({ weakness }) => weakness))].join("; ");

  /* What must be known before the number is read stands above it, all other cautions below. */
  const showCautions = (value) => {
    const few = stored.rules.weaknesses["few sales"];
    const thin = value.inSupport ? value.weak.find(({ weakness }) => weakness === few) : undefined;
    const others = value.weak.filter(({ weakness }) => weakness !== few);
    by("outside").hidden = value.inSupport;
    by("thin").hidden = thin === undefined;
    put("thin", thin === undefined ? "" : figures.words(thin.words));
    by("old").replaceChildren(...others.map(({ words }) => {
      const made = document.createElement("p");
      made.append(...withCode(figures.words(words)));
      return made;
    }));
    const isWeak = value.weak.length > 0;
    for (const names of by("pricing").querySelectorAll(".names")) names.textContent = weaknessNames(value);
    for (const id of ["weak", "about", "alerts"]) by(id).hidden = !isWeak;
    by("pricing").classList.toggle("weak", isWeak);
    const above = new Set([...others, ...(thin ? [thin] : [])].map(({ words }) => words));
    const below = value.cautions.filter((caution) => !above.has(caution));
    by("warnings").replaceChildren(...below.map((caution) => listed(figures.words(caution))));
  };

  /* The appraisal of a pair with what buying it comes to. With the era in doubt the value is that of the mixture, and the
     steps and nearest sales are those of the likeliest era. */
  const answerTo = (pair, offer) => {
    const priced = doubting.likeliest(pair);
    const value = { ...valuation.appraise(market, priced), pair, asIf: null };
    const { median, bands } = value;
    const distributionAt = (name) => doubting.distribution(market, { ...pair, venue: name });
    offering.showControls(offer);
    value.bought = offering.show(offer, distributionAt, { few: value.few, bare: pair.grade === null });
    if (pair.odds === null) return value;
    const mixed = eraOdds.valueInDoubt(market, pair, pair.odds, value.bought.landed ?? null);
    return { ...value, ...mixed, asIf: { ...value, median, bands } };
  };

  const showNothing = (pair, offer) => {
    by("pricing").classList.add("empty");
    by("alerts").hidden = true;
    for (const id of ["median", "range", "heading", "sentence"]) put(id, "");
    by("pricing").classList.remove("weak");
    offering.hide();
    showStates(pair);
    offering.showControls(offer);
    by("text").value = "";
    document.title = by("pricing").dataset.title;
  };

  const show = (pair, offer) => {
    if (pair.silhouette === null) {
      showNothing(pair, offer);
      return;
    }
    by("pricing").classList.remove("empty");
    const value = answerTo(pair, offer);
    put("median", figures.estimate(value.median));
    put("range", figures.range(bandAt(value, 0.8)));
    put("heading", headingOf(pair));
    put("sentence", sentenceOf(value));
    showCautions(value);
    showFacts(pair);
    showStates(pair);
    doubting.show(value);
    showBand(value);
    showWaterfall(value.eras ? value.asIf : value);
    showComparables(value.eras ? value.asIf : value);
    by("text").value = textOf(value);
    document.title = `${headingOf(pair)} · ${figures.estimate(value.median)} · ${said.as_of}`;
  };

  // ---- what the reader does

  const update = () => {
    const [pair, offer] = [readPair(), offering.read()];
    show(pair, offer);
    keep(pair, offer);
  };

  /* Ticking "none" unticks the entries of a list, and the other way round; entries that go are named, to be put back. */
  const tidyList = (input) => {
    const fieldset = input.closest("fieldset");
    const others = [...fieldset.querySelectorAll("input:checked")].filter((other) => (other.value === "") !== (input.value === ""));
    const gone = input.checked ? others : [];
    for (const other of gone) other.checked = false;
    const entries = gone.filter((other) => other.value !== "");
    const names = entries.map((other) => choices[fieldset.dataset.list][Number(other.value)]);
    const back = button("Put back", () => {
      input.checked = false;
      for (const other of entries) other.checked = true;
      fieldset.querySelector(".cleared").replaceChildren();
      update();
      entries[0].focus();
    });
    fieldset.querySelector(".cleared").replaceChildren(...(names.length ? [`Unticked: ${figures.words(names.join(", "), 200)}. `, back] : []));
  };

  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", ({ target }) => {
    if (target === silhouette) fillColourways();
    if (target.type === "checkbox") tidyList(target);
    put("copied", "");
    update();
  });
  form.addEventListener("reset", () => {
    setTimeout(() => {
      fillColourways();
      offering.restore(new URLSearchParams());
      put("copied", "");
      for (const cleared of form.querySelectorAll(".cleared")) cleared.replaceChildren();
      update();
    });
  });
  window.addEventListener("hashchange", () => {
    restore();
    show(readPair(), offering.read());
  });
  by("copy").addEventListener("click", async () => {
    const text = by("text");
    try {
      await navigator.clipboard.writeText(text.value);
      put("copied", "Copied.");
    } catch {
      by("text-of-it").open = true;
      text.focus();
      text.select();
      put("copied", "Selected below: copy it with the keyboard.");
    }
  });

  // ---- the pairs kept

  /* The pair as a row of a list of lots, in the columns of reports/pricing/seen.py. */
  const rowOf = (pair, offer, spoken) => {
    const list = (entries) => (entries === null ? "" : entries.join(";") || "none");
    const text = (value) => (value === null ? "" : String(value));
    const today = new Date();
    const day = [today.getFullYear(), today.getMonth() + 1, today.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
    return {
      venue: text(offer.venue),
      seen: day,
      title: headingOf(pair),
      currency: offering.currencyOf(offer),
      price: text(offer.ask),
      silhouette: pair.silhouette,
      size: text(pair.size_label),
      ...Object.fromEntries(["colourway", "era", "grade", "box", "tags", "overlay"].map((name) => [name, text(pair[name])])),
      ...Object.fromEntries(["parts", "defects", "treatments"].map((name) => [name, list(pair[name])])),
      value: spoken,
    };
  };

  const describe = () => {
    const [pair, offer] = [readPair(), offering.read()];
    if (pair.silhouette === null) return null;
    const value = answerTo(pair, offer);
    const facts = factsOf(pair).slice(2, 5).map(([name, text]) => `${name.toLowerCase()} ${text}`);
    const spoken = `${figures.estimate(value.median)} (${figures.range(bandAt(value, 0.8))}) on ${said.as_of}.${value.bought.headline ? ` ${value.bought.headline}.` : ""}`;
    return { address: addressOf(pair, offer), title: headingOf(pair), line: `${facts.join(", ")}: ${spoken}`, row: rowOf(pair, offer, spoken) };
  };

  keptPairs.open({ stored, by, figures, button, describe });
  by("pricing").hidden = false;
  restore();
  show(readPair(), offering.read());
})();
