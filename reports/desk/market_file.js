"use strict";
// A fault of the market file's text leads to its line.

const whole = document.querySelector("textarea.whole");
const goTo = (line) => {
  const lines = whole.value.split("\n");
  const start = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
  whole.focus();
  whole.setSelectionRange(start, start + (lines[line - 1] || "").length);
  whole.scrollTop = ((line - 4) * whole.scrollHeight) / lines.length;
};
if (whole)
  for (const link of document.querySelectorAll("a[data-line]"))
    link.addEventListener("click", (event) => {
      event.preventDefault();
      goTo(Number(link.dataset.line));
    });
