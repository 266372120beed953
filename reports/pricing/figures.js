"use strict";
/* Figures as people read them, as pipeline/formats.py and pipeline/untrusted.py write them. */
const figuresFor = (money) => {
  const SMALL = 10;
  const MINUS = "\u2212";
  const SPACE = "\u00a0";

  const grouped = (digits) => digits.replace(/^(-?\d+)/, (whole) => whole.replace(/\B(?=(\d{3})+$)/g, ","));
  const count = (number) => grouped(String(number));
  const counted = (number, noun) => `${count(number)} ${number === 1 ? noun : `${noun}s`}`;
  const roundFigures = (value, figures = 3) => Number(value.toPrecision(figures));
  const isZero = (figure) => !/[1-9]/.test(figure);
  const signed = (unsigned, value) => (isZero(unsigned) ? unsigned : `${value > 0 ? "+" : MINUS}${unsigned}`);

  const toWhole = (value) => {
    const below = Math.floor(value);
    return value - below === 0.5 ? below + (below % 2) : Math.round(value); // halves to the even digit
  };
  const written = (value, price) => {
    const small = price > 0 && price < SMALL;
    const cents = small ? value.toFixed(money.decimals) : "";
    return money.symbol + grouped(/[1-9]/.test(cents.split(".")[1] ?? "") ? cents : String(toWhole(value)));
  };

  const estimate = (value) => written(roundFigures(value), roundFigures(value));
  const amount = (value) => written(value, value);
  const range = (band) => `${estimate(band.low)} – ${estimate(band.high)}`;
  const change = (value, price) => {
    const size = roundFigures(Math.abs(value));
    return signed(written(price >= SMALL ? toWhole(size) : size, price), value);
  };
  const percentChange = (factor) => {
    if (factor >= 2) return `×${grouped(String(roundFigures(factor, 2)))}`;
    const points = Math.abs(factor - 1) * 100;
    return signed(`${Number(points.toFixed(points >= 10 ? 0 : 1))}${SPACE}%`, factor - 1);
  };
  const level = (share) => `${Math.round(share * 100)}${SPACE}%`;
  const day = (on) => {
    const [year, month, date] = on.split("-").map(Number);
    return `${date} ${money.months[month - 1]} ${year}`;
  };

  /* Untrusted words on one line, without signs that control or turn text. */
  const UNSHOWN = /[\u0000-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]+/gu;
  const words = (text, most = 300) => {
    const signs = [...text.replace(UNSHOWN, " ").replace(/\s+/g, " ").trim()];
    return signs.length > most ? `${signs.slice(0, most - 1).join("").trimEnd()}…` : signs.join("");
  };

  return { count, counted, estimate, amount, range, change, percentChange, level, day, words, isZero };
};
