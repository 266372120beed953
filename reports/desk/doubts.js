"use strict";
// Doubts by keyboard: the key that a button shows presses it, unless something is being typed.

const FIELDS = "input, select, textarea, [contenteditable]";

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || event.isComposing) return;
  if (event.target instanceof Element && event.target.closest(FIELDS)) {
    if (event.key === "Escape") event.target.blur();
    return;
  }
  const pressed = document.querySelector(`[data-key="${CSS.escape(event.key.toLowerCase())}"]`);
  if (!pressed) return;
  event.preventDefault();
  if (pressed.matches(FIELDS)) pressed.focus();
  else pressed.click();
});
