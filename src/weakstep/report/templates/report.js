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
  const config = { displayModeBar: false, responsive: true };
  const symbols = ["circle", "square", "triangle-up", "cross", "star", "triangle-down", "x"];
  const tones = ["main", "fifth", "good", "fourth", "ink"];
  // One trace per operator in place of the one that holds every run: other shape, other colour.
  const byOperator = (trace, runs, operators, style) =>
    [...new Set(operators)].sort().map((name, turn) => {
      const { x0, dx, ...rest } = trace;
      const at = operators.flatMap((who, run) => (who === name ? [run] : []));
      return {
        ...rest,
        x: at.map((run) => (trace.x ? trace.x[run] : x0 + run * dx)),
        y: at.map((run) => trace.y[run]),
        hovertext: at.map((run) => runs[run]),
        name: name || "operator not logged",
        showlegend: true,
        marker: {
          symbol: symbols[turn % symbols.length],
          color: style.getPropertyValue(`--${tones[turn % tones.length]}`).trim(),
          size: 8,
        },
      };
    });
  const offerOperators = (figure, place, spec, { runs, operators }, style) => {
    if (new Set(operators).size < 2 || !spec.data.some((trace) => trace.hovertext === runs)) return;
    const split = spec.data.flatMap((trace) =>
      trace.hovertext === runs ? byOperator(trace, runs, operators, style) : [trace],
    );
    const button = document.createElement("button");
    button.type = "button";
    button.className = "who";
    button.textContent = "Show operators";
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => {
      const shown = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", String(shown));
      Plotly.react(place, shown ? split : spec.data, spec.layout, config);
    });
    figure.querySelector("button.zoom").after(" ", button);
  };
  const draw = async (figure, place) => {
    const packed = await load();
    const style = getComputedStyle(document.documentElement);
    const spec = resolve(packed.figures[figure.dataset.zoom], style, packed.runs);
    spec.layout.font.family = style.fontFamily;
    await Plotly.newPlot(place, spec.data, spec.layout, config);
    offerOperators(figure, place, spec, packed, style);
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
