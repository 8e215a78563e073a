"use strict";
// Figures stand still until asked: then the packed library is opened, once, and draws in place.
(() => {
  let library = null;
  const unpack = async (id) => {
    const packed = document.getElementById(id).textContent;
    const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).text();
  };
  const load = () => {
    library ??= (async () => {
      const script = document.createElement("script");
      script.textContent = await unpack("zoom-library");
      document.head.append(script);
      return JSON.parse(await unpack("zoom-figures"));
    })();
    return library;
  };
  const resolve = (part, style, runs) => {
    if (part === "@runs") return runs;
    if (typeof part === "string") {
      const name = /^var\((--[a-z]+)\)$/.exec(part);
      return name ? style.getPropertyValue(name[1]).trim() : part;
    }
    if (Array.isArray(part)) return part.map((item) => resolve(item, style, runs));
    if (part && typeof part === "object") {
      return Object.fromEntries(Object.entries(part).map(([key, item]) => [key, resolve(item, style, runs)]));
    }
    return part;
  };
  const draw = async (figure, place) => {
    const { figures, runs } = await load();
    const style = getComputedStyle(document.documentElement);
    const spec = resolve(figures[figure.dataset.zoom], style, runs);
    spec.layout.font.family = style.fontFamily;
    await Plotly.newPlot(place, spec.data, spec.layout, { displayModeBar: false, responsive: true });
  };
  const prepare = (figure) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Zoom and values";
    button.className = "zoom";
    button.setAttribute("aria-pressed", "false");
    const title = figure.querySelector("svg").getAttribute("aria-label");
    button.setAttribute("aria-label", `Zoom and values: ${title}`);
    let place = null;
    button.addEventListener("click", async () => {
      const zoomed = figure.classList.toggle("zoomed");
      button.setAttribute("aria-pressed", String(zoomed));
      if (!zoomed || place) return;
      place = document.createElement("div");
      place.className = "live";
      place.setAttribute("role", "group");
      place.setAttribute("aria-label", title);
      const hint = document.createElement("p");
      hint.className = "hint";
      hint.textContent = "Drag to zoom in, double-click to see all again; point at a mark for its values.";
      figure.querySelector(".drawn").after(place, hint);
      await draw(figure, place);
    });
    figure.querySelector(".drawn").after(button);
  };
  if ("DecompressionStream" in window) document.querySelectorAll("figure[data-zoom]").forEach(prepare);
})();
