"use strict";
// The answer moves as a pair is described: at once in few words, then the whole page of the same address. What is asked
// later drops what was asked before; the fields are never replaced, so that nobody loses their place.

const form = document.querySelector("form[data-live]");
if (form) {
  const SOON = 120;
  const QUIET = 700;
  const action = form.dataset.live;
  let timers = [];
  let under = new AbortController();

  const said = () => {
    const query = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (value.trim()) query.append(name, value.trim());
    return query.toString();
  };

  let shown = said();

  const get = async (path, query) => {
    const answer = await fetch(`${path}?${query}`, { signal: under.signal });
    return answer.text();
  };

  // What is said at a glance is said aloud where it changed, so its place stays.
  const glanceAt = (fresh) => {
    const place = document.querySelector("[data-part=glance]");
    if (place.innerHTML !== fresh.innerHTML) place.replaceChildren(...fresh.childNodes);
  };

  const put = (old, fresh) => {
    if (old && fresh) old.replaceWith(document.adoptNode(fresh));
  };

  // Of a field only what is said under it, its label and its suggestions.
  const tell = (page) => {
    for (const field of form.querySelectorAll(".field")) {
      const control = field.querySelector("[name]");
      const fresh = page.querySelector(`form[data-live] [name="${CSS.escape(control.name)}"]`)?.closest(".field");
      if (!fresh) continue;
      const fault = fresh.querySelector(".fault");
      field.classList.toggle("wrong", Boolean(fault));
      if (fault) control.setAttribute("aria-invalid", "true");
      else control.removeAttribute("aria-invalid");
      field.querySelector(".fault")?.remove();
      if (fault) field.append(document.adoptNode(fault));
      const offered = field.querySelector("datalist");
      const names = fresh.querySelector("datalist");
      if (names && offered) offered.replaceChildren(...names.children);
      else if (names) {
        field.append(document.adoptNode(names));
        control.setAttribute("list", names.id);
      } else {
        offered?.remove();
        control.removeAttribute("list");
      }
      const label = field.querySelector(`label[for="${control.id}"]`);
      if (label) label.textContent = fresh.querySelector("label").textContent;
    }
  };

  const failed = (error) => {
    if (error.name === "AbortError") return;
    document.querySelector("main")?.removeAttribute("aria-busy");
    document.querySelector("[data-part=glance]").textContent = "The desk does not answer: is it still open?";
    shown = "";
  };

  const glance = (query) =>
    get(`${action}/glance`, query)
      .then((html) => {
        glanceAt(new DOMParser().parseFromString(html, "text/html").body);
      })
      .catch(failed);

  const whole = (query) =>
    get(action, query)
      .then((html) => {
        const page = new DOMParser().parseFromString(html, "text/html");
        if (!page.querySelector("form[data-live]")) return;
        document.title = page.title;
        glanceAt(page.querySelector("[data-part=glance]"));
        for (const part of ["[data-part=beside]", ".masthead", "main", "body > footer"]) {
          put(document.querySelector(part), page.querySelector(part));
        }
        tell(page);
        history.replaceState(null, "", query ? `${action}?${query}` : action);
      })
      .catch(failed);

  // Drop what was asked before, and return what is asked now.
  const begin = () => {
    timers.forEach(clearTimeout);
    under.abort();
    under = new AbortController();
    document.querySelector("main")?.setAttribute("aria-busy", "true");
    shown = said();
    return shown;
  };

  const ask = (wait) => {
    if (said() === shown) return;
    const query = begin();
    timers = [
      ...(form.hasAttribute("data-glances") ? [setTimeout(glance, wait, query)] : []),
      setTimeout(whole, wait + QUIET, query),
    ];
  };

  // A name that is half typed means nothing yet, or another pair: it waits until it is one of those offered.
  const isHalf = (control) => {
    if (!control.list || !control.value.trim()) return false;
    const typed = control.value.trim().toLowerCase();
    return ![...control.list.options].some((one) => one.value.toLowerCase() === typed);
  };

  form.addEventListener("input", (event) => ask(isHalf(event.target) ? QUIET : SOON));
  form.addEventListener("change", () => ask(SOON));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    whole(begin());
  });
}
