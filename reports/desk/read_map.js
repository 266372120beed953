"use strict";
// The form of a map: with each change, the rows as they will be read, and the questions that follow.

const form = document.querySelector(".map-form");
if (form) {
  const show = () => {
    for (const part of form.querySelectorAll("[data-with]")) {
      const by = form.elements.namedItem(part.dataset.with);
      part.hidden = !by || by.value !== part.dataset.value;
    }
  };
  show();
  form.addEventListener("input", show);

  if (form.dataset.live) {
    let waiting = 0;
    let asked = 0;
    const renew = async () => {
      const mine = asked;
      const body = new URLSearchParams();
      for (const [name, value] of new FormData(form)) if (typeof value === "string") body.append(name, value);
      const answer = await fetch(form.dataset.live, { method: "POST", body });
      if (!answer.ok || mine !== asked) return;
      const said = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const fresh of said.querySelectorAll("[data-part]")) {
        const old = form.querySelector(`[data-part="${fresh.dataset.part}"]`);
        if (!old) continue;
        const focused = old.contains(document.activeElement) ? document.activeElement : null;
        const name = focused && focused.name;
        if (focused && focused.matches('input:not([type="hidden"])')) continue;
        const opened = [...old.querySelectorAll("details")].map((one) => one.open);
        const scrolled = old.querySelector(".scrolls")?.scrollLeft || 0;
        old.replaceChildren(...fresh.childNodes);
        [...old.querySelectorAll("details")].forEach((one, at) => (one.open = opened[at] || false));
        const box = old.querySelector(".scrolls");
        if (box) box.scrollLeft = scrolled;
        if (name) form.elements.namedItem(name)?.focus({ preventScroll: true });
      }
      show();
    };
    form.addEventListener("input", () => {
      asked += 1; // an answer to what the form said before is out of date
      clearTimeout(waiting);
      waiting = setTimeout(renew, 350);
    });
    form.addEventListener("change", (event) => {
      if (event.target.name === "instead") {
        clearTimeout(waiting);
        form.requestSubmit(form.querySelector('[value="look"]'));
      }
    });
  }
}
