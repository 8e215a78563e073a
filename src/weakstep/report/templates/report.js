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
  // System colours of a high-contrast mode are names that only the browser can turn into numbers.
  const colour = (style, name) => {
    const value = style.getPropertyValue(name).trim();
    if (value.startsWith("#")) return value;
    const probe = document.createElement("span");
    probe.style.color = value;
    document.body.append(probe);
    const found = getComputedStyle(probe).color;
    probe.remove();
    return found;
  };
  const resolve = (part, style, runs) => {
    if (part === "@runs") return runs;
    if (typeof part === "string") {
      const name = /^var\((--[a-z]+)\)$/.exec(part);
      return name ? colour(style, name[1]) : part;
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
          color: colour(style, `--${tones[turn % tones.length]}`),
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
  // Dragging has an equal by buttons, for those who cannot drag.
  const moves = {
    Closer: ([low, high]) => [low + (high - low) / 4, high - (high - low) / 4],
    Wider: ([low, high], [first, last]) => {
      const half = (high - low) / 2;
      return [Math.max(first, low - half), Math.min(last, high + half)];
    },
    Left: ([low, high], [first]) => {
      const step = Math.min((high - low) / 2, low - first);
      return [low - step, high - step];
    },
    Right: ([low, high], [, last]) => {
      const step = Math.min((high - low) / 2, last - high);
      return [low + step, high + step];
    },
    All: (_, whole) => whole,
  };
  const offerMoves = (figure, place) => {
    const whole = [...place.layout.xaxis.range];
    const group = document.createElement("div");
    group.className = "who";
    group.setAttribute("role", "group");
    group.setAttribute("aria-label", "Zoom without dragging");
    for (const [name, move] of Object.entries(moves)) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = name;
      button.addEventListener("click", () => {
        const range = move([...place.layout.xaxis.range], whole);
        Plotly.relayout(place, { "xaxis.range": range, ...(name === "All" && { "yaxis.range": place.wholeY }) });
      });
      group.append(button, " ");
    }
    place.wholeY = [...place.layout.yaxis.range];
    figure.querySelector("button.zoom").after(" ", group);
  };
  const draw = async (figure, place) => {
    const packed = await load();
    const style = getComputedStyle(document.documentElement);
    const spec = resolve(packed.figures[figure.dataset.zoom], style, packed.runs);
    spec.layout.font.family = style.fontFamily;
    await Plotly.newPlot(place, spec.data, spec.layout, config);
    offerMoves(figure, place);
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
      hint.textContent = "Drag or press a button to zoom; point at a mark for its values, which the numbers below hold too.";
      figure.querySelector(".drawn").after(place, hint);
      await draw(figure, place);
    });
    figure.querySelector(".drawn").after(button);
  };
  if ("DecompressionStream" in window) document.querySelectorAll("figure[data-zoom]").forEach(prepare);
})();
