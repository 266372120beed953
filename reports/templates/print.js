"use strict";
(() => {
  const opened = [];
  window.addEventListener("beforeprint", () => {
    for (const details of document.querySelectorAll("details.prints:not([open])")) {
      details.open = true;
      opened.push(details);
    }
  });
  window.addEventListener("afterprint", () => {
    for (const details of opened.splice(0)) details.open = false;
  });
})();
