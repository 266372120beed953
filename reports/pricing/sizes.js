"use strict";
/* Words as people write them, and the size on a label: pipeline/ingest/cells.py and sizes.py, for one at a time. */
const wordsAndSizes = (() => {
  // ---- pipeline/ingest/cells.py: words folded, so that two ways to write one are one

  const DASHES = /[\u2010-\u2015\u2212\uFE58\uFE63\uFF0D]/g;
  const FRACTIONS = { "½": ".5", "⅓": " 1/3", "⅔": " 2/3", "¼": ".25", "¾": ".75", "⁄": "/" };
  const plain = (text) => text.normalize("NFKC").replace(/[\s\u200B\uFEFF]+/g, " ").replace(DASHES, "-").trim();
  const fold = (text) => plain(text).toLowerCase().replaceAll("ß", "ss").normalize("NFKD").replace(/\p{M}+/gu, "").replace(DASHES, "-");

  // ---- pipeline/ingest/sizes.py: the foot length of a label

  const SIZE_WORDS =
    /(?:\b(?:size|sz|gr|(?:schuh)?gr[öo]e?(?:ß|ss)e|taille|pointure|taglia|tg|talla|tamanho|tam|(?:schoen)?maat|rozmiar|rozm|(?:sko)?storlek|strl|stl|(?:sko)?st[øo]rrelse|str|koko|velikost|vel)\b|サイズ)[ .:]*/g;

  const written = (text) =>
    plain(text.replace(/(\d) ([½¼¾])/g, "$1$2").replace(/[½⅓⅔¼¾⁄]/g, (sign) => FRACTIONS[sign]))
      .toLowerCase()
      .replace(/(\d),(\d{1,2})\b/g, "$1.$2")
      .replace(/(\d)[- ]1\/2\b/g, "$1.5")
      .replace(/(\d)-([12]\/3)\b/g, "$1 $2")
      .replace(/(\d)(\p{L})/gu, "$1 $2")
      .replace(/(\p{L})(\d)/gu, "$1 $2")
      .replace(SIZE_WORDS, "");

  /* A reader of labels: `sizes` holds each system's line, the lengths that a foot can have and the systems' names. */
  const sizeReader = (sizes) => {
    const SYSTEMS = Object.entries(sizes.patterns).map(([name, pattern]) => [name, new RegExp(`^(?:${pattern})(?: cm)?$`)]);
    const [least, most] = sizes.range;
    const NONE = { label: null, foot: null, fault: "", offers: [] };

    /* The system that the words about a number name: null where they name none, undefined where they are no size's. */
    const systemNamed = (word) => {
      if (word === "") return null;
      if (word === "cm") return "JP";
      if (word === "mm") return "mm";
      return SYSTEMS.find(([, pattern]) => pattern.test(word))?.[0];
    };

    /* The foot length of a size: by the maker's chart within its sizes, else by the formula. */
    const lengthOf = (system, number, charts) => {
      const own = charts[system] ?? [];
      const place = own.findIndex(([most]) => number <= most);
      if (place >= 0 && number >= own[0][0]) {
        const [most, greater] = own[place];
        const [least, less] = own[Math.max(place - 1, 0)];
        return most === least ? greater : less + (number - least) * ((greater - less) / (most - least));
      }
      const [zero, step] = sizes.systems[system];
      return zero + step * number;
    };
    const footOf = (named, number, charts) => Math.round(lengthOf(named === "JP" && number >= 100 ? "mm" : named, number, charts));
    const isFoot = (length) => least <= length && length <= most;

    /* The systems in which a number that is no size as it stands would be one, each length once. */
    const offersFor = (number, charts) => {
      const found = Object.keys(sizes.systems)
        .filter((system) => system !== "JP" || number < 100)
        .map((system) => ({ system, foot: footOf(system, number, charts) }))
        .filter(({ foot }) => isFoot(foot));
      return found.filter(({ foot }, place) => found.findIndex((one) => one.foot === foot) === place);
    };

    /* What a label says where `picked` is the system of a bare number, and `charts` are those of its maker: label, foot
       length, fault, other systems. */
    return (text, picked, charts) => {
      const trimmed = text.trim();
      if (trimmed === "") return NONE;
      const unread = { ...NONE, fault: "Not a size (write 9, 9.5, UK 9 or 43 1/3); valued without it." };
      const found = /^([^\d]*)(\d{1,3}(?:\.\d{1,2})?)(?: ([12])\/3)?([^\d]*)$/.exec(written(trimmed));
      if (found === null || found[1].startsWith("-")) return unread;
      const word = `${found[1]} ${found[4]}`.replace(/[ .:-]+/g, " ").trim();
      const own = systemNamed(word);
      if (own === undefined) return unread;
      const named = own === null || (picked === "US women" && /^usa?$/.test(word)) ? picked : own;
      const number = Number(found[2]) + (found[3] ? Number(found[3]) / 3 : 0);
      const foot = footOf(named, number, charts);
      if (isFoot(foot)) return { ...NONE, label: own === null ? `${named} ${trimmed}` : trimmed, foot };
      const bare = `${found[2]}${found[3] ? ` ${found[3]}/3` : ""}`;
      const offers = offersFor(number, charts).map((offer) => ({ ...offer, number: bare }));
      const fault = offers.length
        ? `There is no ${named} ${bare}. Is it ${offers.map(({ system }) => (system === "mm" ? `${bare} mm` : `${system} ${bare}`)).join(" or ")}? Until you say so, valued without it.`
        : `${foot} mm is not a foot length from ${least} to ${most} mm; valued without it.`;
      return { ...NONE, fault, offers };
    };
  };

  return { fold, sizeReader };
})();
