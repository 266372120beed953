"use strict";
/* Charts of one row a thing: its words and figure above, its marks on a common price axis below. */
const drawRows = (() => {
  // ---- reports/charts/price_axis.py

  const LOG_FROM = 3;
  const PAD = 0.06;
  const EDGE = 0.25;
  const MOST_TICKS = 6;

  /* The axis of these prices, and of the others as far as they lie no further off than the prices span: one that lies
     further off is written at the edge. */
  const priceAxis = (prices, others) => {
    const [least, most] = [Math.min(...prices), Math.max(...prices)];
    const span = Math.max(most / least, 1 + EDGE);
    const near = others.filter((one) => least / span <= one && one <= most * span);
    const [under, over] = [others.some((one) => one < least / span), others.some((one) => one > most * span)];
    const [low, high] = [Math.min(least, ...near), Math.max(most, ...near)];
    const isLog = high >= low * LOG_FROM;
    const within = (price) => Math.min(Math.max(price, low), high);
    const beyond = (price) => (price < low ? "under" : price > high ? "over" : "");
    if (isLog) {
      const [pad, edge] = [(high / low) ** PAD, (high / low) ** EDGE];
      const [from, to] = [low / (under ? edge : pad), high * (over ? edge : pad)];
      const place = (price) => (100 * Math.log(within(price) / from)) / Math.log(to / from);
      return { place, beyond, isLog, ticks: logTicks(from, to), tickPlace: (tick) => (100 * Math.log(tick / from)) / Math.log(to / from) };
    }
    const [pad, edge] = [Math.max((high - low) * PAD, high * 0.01), (high - low) * EDGE];
    const [from, to] = [low - (under ? edge : pad), high + (over ? edge : pad)];
    const tickPlace = (price) => (100 * (price - from)) / (to - from);
    return { place: (price) => tickPlace(within(price)), beyond, isLog, ticks: linearTicks(from, to), tickPlace };
  };

  const plain = (value) => Number(value.toPrecision(6));

  const linearTicks = (low, high) => {
    const rough = (high - low) / MOST_TICKS;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 2.5, 5, 10].map((digit) => digit * power).find((one) => one >= rough);
    const ticks = [];
    for (let k = Math.ceil(low / step); k <= Math.floor(high / step); k += 1) ticks.push(plain(step * k));
    return ticks;
  };

  const logTicks = (low, high) => {
    const powers = [];
    for (let power = Math.floor(Math.log10(low)); power <= Math.ceil(Math.log10(high)); power += 1) powers.push(power);
    let ticks = [];
    for (const digits of [[1, 1.5, 2, 3, 5, 7], [1, 2, 5], [1, 3], [1]]) {
      const every = powers.flatMap((power) => digits.map((digit) => plain(digit * 10 ** power)));
      ticks = every.filter((tick) => low <= tick && tick <= high);
      if (ticks.length <= MOST_TICKS) return ticks;
    }
    const apart = Math.ceil(ticks.length / MOST_TICKS);
    return ticks.filter((_, number) => number % apart === 0);
  };

  // ---- the marks

  const element = (kind, text = "") => {
    const made = document.createElement("span");
    made.className = kind;
    made.textContent = text;
    return made;
  };

  const drawMark = (axis, { kind, style = "", at, from, to, title = "" }) => {
    const mark = element(`mark ${kind} ${style}`);
    if (title) mark.title = title;
    if (kind === "bar" || kind === "line") {
      const [left, right] = [axis.place(from), axis.place(to)].sort((one, other) => one - other);
      mark.style.left = `${left}%`;
      mark.style.width = `${right - left}%`;
    } else {
      mark.style.left = `${axis.place(at)}%`;
    }
    return mark;
  };

  /* The prices of a row that lie beyond the axis, written at its edge with an arrow; their marks are left out. */
  const drawEdges = (axis, marks, money) =>
    ["under", "over"].flatMap((side) => {
      const far = marks.filter((mark) => mark.at !== undefined && axis.beyond(mark.at) === side).map((mark) => mark.at);
      if (!far.length) return [];
      const written = far.sort((one, other) => one - other).map(money).join(", ");
      return [element(`edge ${side}`, side === "under" ? `${written} ←` : `→ ${written}`)];
    });

  const drawRow = (axis, { words, figure, marks }, money) => {
    const row = element("row");
    const track = element("track");
    const shown = marks.filter((mark) => mark.at === undefined || axis.beyond(mark.at) === "");
    track.append(...shown.map((mark) => drawMark(axis, mark)), ...drawEdges(axis, marks, money));
    row.append(element("row-words", words), element("row-figure", figure), track);
    return row;
  };

  /* Fill `host` with rows of {words, figure, marks}; a mark is a bar or line (from, to), or a dot, diamond, ring or link
     (at). `others` are prices that may lie beyond the axis; `rule` is the price at which a dashed line stands through all rows, if any. */
  return (host, { rows, prices, others = [], rule, title, alternative, money }) => {
    const axis = priceAxis(prices, others);
    const marks = element("row-list");
    const ticks = element("ticks");
    for (const tick of axis.ticks) {
      const line = element("tick-line");
      const place = axis.tickPlace(tick);
      const label = element(`tick ${place < 4 ? "first" : place > 96 ? "last" : ""}`, money(tick));
      line.style.left = `${place}%`;
      label.style.left = `${place}%`;
      marks.append(line);
      ticks.append(label);
    }
    if (rule !== undefined) marks.append(drawMark(axis, { kind: "rule", at: rule }));
    marks.append(...rows.map((row) => drawRow(axis, row, money)));
    host.replaceChildren(marks, ticks, element("axis-title", axis.isLog ? `${title}, log scale` : title));
    for (const part of host.children) part.setAttribute("aria-hidden", "true");
    host.setAttribute("aria-label", alternative);
    host.dataset.drawn = "yes";
  };
})();
