"use strict";
/* The pairs that the reader keeps: on this device only, as a list on the page and as CSV. */
const keptPairs = (() => {
  // ---- pipeline/csv_guard.py: a CSV of which no part can begin a cell as a formula

  const SIGNS = "[=+\\-@|%\\uff1d\\uff0b\\uff0d\\uff20]";
  const UNSEEN = '[\\s\\p{Cc}\\p{Cf}"]*';
  const AFTER_SEPARATOR = new RegExp(`([,;|\\t\\r\\n]${UNSEEN})(${SIGNS})`, "gu");
  const AT_START = new RegExp(`^${UNSEEN}${SIGNS}|^[\\t\\r\\n]`, "u");
  const CONTROLS = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f]/g;

  const guarded = (text) => {
    let shown = text.replace(CONTROLS, (sign) => `\\x${sign.charCodeAt(0).toString(16).padStart(2, "0")}`);
    for (let round = 0; round < 2; round += 1) shown = shown.replace(AFTER_SEPARATOR, "$1'$2");
    return AT_START.test(shown) ? `'${shown}` : shown;
  };

  const guardedCsv = (columns, rows) =>
    [columns, ...rows.map((row) => columns.map((column) => row[column] ?? ""))]
      .map((texts) => `${texts.map((text) => `"${guarded(text).replaceAll('"', '""')}"`).join(",")}\n`)
      .join("");

  // ---- the list, which stays on the device

  const isEntry = (entry) =>
    ["address", "title", "line"].every((name) => typeof entry?.[name] === "string") &&
    Object.values(entry.row ?? { missing: null }).every((text) => typeof text === "string");

  /* A store under a name: what is in it, and whether the browser keeps it. */
  const storeOf = (name) => {
    let held = [];
    const read = () => {
      try {
        const stored = JSON.parse(localStorage.getItem(name) ?? "[]");
        held = Array.isArray(stored) ? stored.filter(isEntry) : [];
      } catch {
        // Nothing can be kept here, or what is kept is no list: the list lives as long as the page.
      }
      return held;
    };
    const write = (entries) => {
      held = entries;
      try {
        localStorage.setItem(name, JSON.stringify(entries));
        return true;
      } catch {
        return false;
      }
    };
    return { read, write };
  };

  const open = ({ stored, by, figures, button, describe }) => {
    const { seen } = stored;
    const store = storeOf(seen.store);
    let removed = null;
    const entries = store.read();

    const say = (text, ...more) => by("kept-says").replaceChildren(text, ...more);

    const change = (next, spoken, before = null) => {
      entries.splice(0, entries.length, ...next);
      const isKept = store.write([...entries]);
      removed = before;
      const back = before === null ? [] : [" ", button("Put back", () => change(removed, "Put back."))];
      say(isKept ? spoken : `${spoken} ${seen.not_kept}`, ...back);
      show();
    };

    const lineOf = (entry, number) => {
      const made = document.createElement("li");
      const link = document.createElement("a");
      link.href = `#${entry.address}`;
      link.textContent = figures.words(entry.title, 120) || "(no name)";
      const line = document.createElement("span");
      line.textContent = figures.words(entry.line, 300);
      const remove = button("Remove", () => change(entries.filter((_, place) => place !== number), "Removed.", [...entries]));
      remove.setAttribute("aria-label", `Remove ${link.textContent}, number ${number + 1}`);
      made.append(link, line, remove);
      return made;
    };

    const show = () => {
      by("kept-list").replaceChildren(...entries.map(lineOf));
      by("kept-none").hidden = entries.length > 0;
      for (const id of ["export", "forget", "kept-map"]) by(id).hidden = !entries.length;
    };

    const csv = () => guardedCsv(seen.columns, entries.map((entry) => entry.row));

    by("keep").addEventListener("click", () => {
      const entry = describe();
      if (entry === null) say("Choose a silhouette first.");
      else change([...entries, entry], `Kept ${figures.words(entry.title, 120)}: ${figures.counted(entries.length + 1, "pair")} in the list.`);
    });
    by("forget").addEventListener("click", () => change([], "The list is empty.", [...entries]));
    by("export").addEventListener("click", () => {
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([csv()], { type: "text/csv" }));
      link.download = seen.file;
      link.click();
      URL.revokeObjectURL(link.href);
      say(`Wrote ${seen.file}.`);
    });
    show();
  };

  return { open, guarded };
})();
