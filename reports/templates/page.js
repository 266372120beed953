"use strict";
(() => {
  const config = JSON.parse(document.getElementById("chart-config").textContent);
  const options = {
    config,
    mode: "vega-lite",
    renderer: "svg",
    ast: true,
    actions: false,
    defaultStyle: false,
    tooltip: { disableDefaultStyle: true },
  };
  for (const script of document.querySelectorAll("script[data-chart]")) {
    const host = document.getElementById(script.dataset.chart);
    const spec = JSON.parse(script.textContent);
    window.vegaEmbed(host, spec, options).then(
      () => {
        // The host is the image, with its text alternative; the marks inside it are not read out.
        host.querySelector("svg").setAttribute("aria-hidden", "true");
        host.dataset.drawn = "yes";
      },
      (error) => {
        host.textContent = "This chart could not be drawn; its table is below.";
        host.parentElement.querySelector("details")?.setAttribute("open", "");
        console.error(error);
      },
    );
  }
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
