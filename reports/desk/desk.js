"use strict";
// What the desk does beyond plain forms: it goes on when work is done, and keeps what is typed.

const work = document.querySelector("[data-work]");
if (work) {
  const look = async () => {
    const answer = await fetch(`/work/${work.dataset.work}/state`);
    if (!answer.ok) return;
    const state = await answer.json();
    if (state.ended) {
      const then = encodeURIComponent(work.dataset.then);
      location.replace(`/work/${work.dataset.work}?then=${then}`);
      return;
    }
    work.querySelector("[data-step]").textContent = state.step || "Under way";
    const bar = work.querySelector("progress");
    if (state.total) {
      bar.max = state.total;
      bar.value = state.done;
    } else bar.removeAttribute("value");
    setTimeout(look, 500);
  };
  setTimeout(look, 400);
}

// A form with data-draft keeps what is typed on the desk's disk, under that name.
for (const form of document.querySelectorAll("form[data-draft]")) {
  let waiting = 0;
  const keep = () => {
    const said = {};
    for (const [name, value] of new FormData(form)) if (typeof value === "string") said[name] = value;
    const body = JSON.stringify({ form: form.dataset.draft, said });
    fetch("/draft", { method: "POST", headers: { "content-type": "application/json" }, body, keepalive: body.length < 60000 });
  };
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(keep, 400);
  });
  addEventListener("pagehide", () => {
    if (waiting) keep();
  });
  form.addEventListener("submit", () => {
    clearTimeout(waiting);
    waiting = 0;
  });
}
