"use strict";
// Files that are dropped on the page come in, one after another, with how far each is.

const drop = document.querySelector("[data-drop]");
if (drop) {
  const input = drop.querySelector('input[type="file"]');
  const state = drop.querySelector("[data-drop-state]");
  drop.querySelector("[data-drop-hint]").hidden = false;

  const send = (files) => {
    const form = new FormData();
    for (const file of files) form.append("files", file, file.name);
    const request = new XMLHttpRequest();
    request.open("POST", drop.action);
    request.setRequestHeader("accept", "application/json");
    request.responseType = "json";
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) state.textContent = `Coming in: ${Math.floor((100 * event.loaded) / event.total)} %`;
    });
    request.addEventListener("load", () => {
      const said = request.response || {};
      if (said.then) location.assign(said.then);
      else state.textContent = (said.faults || ["It could not be kept."]).join(" ");
    });
    request.addEventListener("error", () => (state.textContent = "The desk does not answer; nothing was kept. Is it still open?"));
    state.hidden = false;
    state.textContent = "Coming in";
    request.send(form);
  };

  let depth = 0;
  const holdsFiles = (event) => event.dataTransfer && [...event.dataTransfer.types].includes("Files");
  addEventListener("dragenter", (event) => {
    if (!holdsFiles(event)) return;
    depth += 1;
    drop.classList.add("over");
  });
  addEventListener("dragleave", (event) => {
    if (!holdsFiles(event)) return;
    depth = Math.max(0, depth - 1);
    if (!depth) drop.classList.remove("over");
  });
  addEventListener("dragover", (event) => {
    if (holdsFiles(event)) event.preventDefault();
  });
  addEventListener("drop", (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    depth = 0;
    drop.classList.remove("over");
    const files = [...event.dataTransfer.files];
    if (files.length) send(files);
  });
  drop.addEventListener("submit", (event) => {
    if (!input.files.length) return;
    event.preventDefault();
    send(input.files);
  });
}
