"use strict";
/* The pictures of the front: limits, families, colour, brushing, and the design that is pointed at. */

page.startFront = function () {
  page.pictures = page.document.roots().filter((root) => root.name.startsWith("pair-"));
  page.startLimits();
  page.startColours();
  page.startBrush();
  page.startPointing();
  page.startPairs();
};

/* Limits */

page.startLimits = function () {
  const place = document.getElementById("limits");
  const more = document.getElementById("add-limit");
  const limits = [];
  const families = [...document.querySelectorAll("input[name=family]")];
  const view = page.model("inside");

  const apply = page.soon(() => {
    const off = new Set(families.filter((box) => !box.checked).map((box) => box.value));
    const set = limits.filter((limit) => limit.isSet());
    for (let row = 0; row < page.count; row++) {
      page.inside[row] = !off.has(page.valueAt("architecture", row)) && set.every((limit) => limit.holds(row));
    }
    view.indices = [...page.inside.keys()].filter((row) => page.inside[row]);
    page.tell("meant");
  });

  const add = (name, isMost) => {
    const limit = page.makeLimit(name, isMost, apply, () => {
      limits.splice(limits.indexOf(limit), 1);
      limit.element.remove();
      apply();
    });
    limits.push(limit);
    place.append(limit.element);
    return limit;
  };

  page.data.objectives.forEach((name) => add(name, true));
  for (const column of page.data.columns.filter(page.canLimit)) {
    for (const [kind, words] of [["most", "at most"], ["least", "at least"]]) {
      more.append(page.make("option", { value: `${kind} ${column.name}` }, `${page.longLabel(column)}, ${words}`));
    }
  }
  more.addEventListener("change", () => {
    const [kind, name] = more.value.split(" ");
    more.value = "";
    add(name, kind === "most").focus();
  });
  families.forEach((box) => box.addEventListener("change", apply));
  document.getElementById("clear-limits").addEventListener("click", () => {
    limits.forEach((limit) => limit.clear());
    families.filter((box) => !box.disabled).forEach((box) => { box.checked = true; });
    apply();
  });
  page.on("meant", page.sayCount);
};

/* A label that stands alone, without the heading of its group. */
page.longLabel = function (column) {
  if (column.name === "architecture") return "family";
  const of = column.name.startsWith("margin_") ? "margin: " : column.group === "nominal" ? "nominal: " : "";
  return of + column.label;
};

/* Columns that differ among the designs and are numbers; the objectives have their limits from the start. */
page.canLimit = function (column) {
  if (column.kind !== "number" || ["trial", "generation", "shortfall"].includes(column.name)) return false;
  const [low, high] = page.spanOf(column.name);
  return low < high;
};

/* The least and the largest value of a column; the data never change, so it is looked for once. */
page.spans = new Map();
page.spanOf = function (name) {
  if (!page.spans.has(name)) {
    let [low, high] = [Infinity, -Infinity];
    for (const value of page.source.data[name]) {
      if (value != null && value < low) low = value;
      if (value != null && value > high) high = value;
    }
    page.spans.set(name, low <= high ? [low, high] : [0, 0]);
  }
  return page.spans.get(name);
};

/* A slider: at its end it is no limit. It steps in the digits that the column deserves. */
page.makeLimit = function (name, isMost, changed, remove) {
  const column = page.columns.get(name);
  const values = page.source.data[name];
  const unit = 10 ** -column.digits;
  const [low, high] = page.spanOf(name);
  const [first, last] = [Math.floor(low / unit), Math.max(Math.ceil(high / unit), Math.floor(low / unit) + 1)];
  const end = isMost ? last : first;
  const slider = page.make("input", { type: "range", min: first, max: last, step: 1, value: end, name, id: `limit-${name}-${isMost}` });
  slider.value = end;
  const output = page.make("output", { for: slider.id });
  const isExtra = !page.data.objectives.includes(name) || !isMost;
  const head = page.make("label", { for: slider.id, title: column.text }, page.longLabel(column));
  const element = page.make("div", { class: "limit" }, head, output, slider);
  if (isExtra) element.append(page.make("button", { type: "button", title: "remove", "aria-label": `remove the limit on ${column.label}`, onclick: remove }, "×"));
  const bound = () => Number(slider.value) * unit;
  const say = () => {
    const text = `${isMost ? "≤" : "≥"} ${page.withUnit(name, bound())}`;
    output.textContent = Number(slider.value) === end ? "no limit" : text;
    slider.setAttribute("aria-valuetext", output.textContent);
    element.classList.toggle("set", Number(slider.value) !== end);
  };
  slider.addEventListener("input", () => { say(); changed(); });
  say();
  return {
    element,
    isSet: () => Number(slider.value) !== end,
    // A value that a design lacks breaks no limit; half a millionth of a step is rounding.
    holds: (row) => Number.isNaN(values[row]) || values[row] == null
      || (isMost ? values[row] <= bound() + unit * 1e-6 : values[row] >= bound() - unit * 1e-6),
    clear: () => { slider.value = end; say(); },
    focus: () => slider.focus(),
  };
};

page.sayCount = function () {
  const inside = page.inside.reduce((sum, is) => sum + (is ? 1 : 0), 0);
  const brushed = page.brushed === null ? null : [...page.brushed].filter((row) => page.inside[row]).length;
  const count = document.getElementById("count");
  count.replaceChildren(
    page.make("strong", {}, inside.toLocaleString("en")),
    ` of ${page.count.toLocaleString("en")} designs inside the limits`,
    brushed === null ? "" : `, ${brushed.toLocaleString("en")} of them brushed`,
  );
};

/* Colour */

page.startColours = function () {
  const choice = document.getElementById("colour");
  for (const column of page.data.columns) {
    if (!page.canLimit(column) && !page.isChoice(column)) continue;
    choice.append(page.make("option", { value: column.name }, page.longLabel(column) + (column.unit ? `, ${column.unit}` : "")));
  }
  choice.value = page.columns.has("architecture") ? "architecture" : choice.options[0]?.value;
  const colour = () => page.colourBy(choice.value);
  choice.addEventListener("change", colour);
  page.on("colours", colour);
};

page.isChoice = (column) => column.kind === "text" && new Set(page.source.data[column.name]).size > (column.name === "architecture" ? 0 : 1)
  && ["variable", "key"].includes(column.group);

page.colourBy = function (name) {
  const values = page.source.data[name];
  const column = page.columns.get(name);
  const key = document.getElementById("colour-key");
  const none = page.colour("ink-soft");
  let colours;
  if (column.kind === "number") {
    const [low, high] = page.spanOf(name);
    const ramp = page.data.ramps[page.isDark() ? "dark" : "light"];
    const step = (value) => ramp[Math.round(((value - low) / (high - low || 1)) * (ramp.length - 1))] ?? none;
    colours = Array.from(values, step);
    const bar = page.make("span", { class: "ramp" });
    bar.style.background = `linear-gradient(to right, ${ramp.join(", ")})`;
    key.replaceChildren(bar, page.make("span", {}, page.withUnit(name, low)), page.make("span", {}, page.withUnit(name, high)));
  } else if (name === "architecture") {
    const series = new Map(page.data.families.map((family) => [family.name, page.colour(`series-${family.series}`)]));
    colours = Array.from(values, (value) => series.get(value) ?? none);
    key.replaceChildren("as the families above");
  } else {
    const choices = [...new Set(values)].filter(Boolean).sort();
    const series = new Map(choices.map((choice, place) => [choice, page.colour(`series-${place % page.data.series}`)]));
    colours = Array.from(values, (value) => series.get(value) ?? none);
    key.replaceChildren(...choices.map((choice) => {
      const swatch = page.make("span", { class: "swatch" });
      swatch.style.background = series.get(choice);
      return page.make("span", {}, swatch, choice);
    }));
  }
  page.source.data.colour = colours;
  page.source.change.emit();
};

/* Brushing */

page.startBrush = function () {
  const radios = [...document.querySelectorAll("#dragging input")];
  const drag = () => {
    const wanted = radios.find((radio) => radio.checked).value;
    for (const picture of page.pictures) {
      for (const tool of picture.toolbar.tools) {
        if (tool.tags.length) tool.active = tool.tags.includes(wanted);
      }
    }
  };
  // With a finger dragging moves the page, until somebody chooses otherwise.
  if (matchMedia("(pointer: coarse)").matches) radios.at(-1).checked = true;
  radios.forEach((radio) => radio.addEventListener("change", drag));
  drag();
  const brush = page.soon(() => {
    const rows = page.source.selected.indices;
    page.brushed = rows.length ? new Set(rows) : null;
    page.tell("meant");
  });
  page.source.selected.properties.indices.change.connect(brush);
  document.getElementById("clear-brush").addEventListener("click", () => { page.source.selected.indices = []; });
  document.getElementById("reset-zoom").addEventListener("click", () => page.pictures.forEach((picture) => {
    for (const range of [picture.x_range, picture.y_range]) range.reset();
  }));
};

/* Pointing: a click takes the nearest design, arrow keys step along the axis across. */

const REACH_PX = 24;

page.startPointing = function () {
  const ring = page.model("chosen");
  page.on("chosen", () => {
    ring.data = Object.fromEntries(page.data.objectives.map((name) => [name, [page.valueAt(name, page.chosen)]]));
  });
  for (const picture of page.pictures) {
    const frame = document.getElementById(picture.name);
    const { x: { field: across }, y: { field: up } } = picture.renderers[0].glyph;
    picture.on_event("tap", ({ x, y }) => {
      const row = page.nearest(picture, across, up, x, y);
      if (row >= 0) page.choose(row);
    });
    frame.tabIndex = 0;
    frame.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!step) return;
      event.preventDefault();
      page.step(across, step);
    });
  }
};

page.nearest = function (picture, across, up, x, y) {
  const pixels = (range, length) => length / Math.abs(range.end - range.start);
  const [dx, dy] = [pixels(picture.x_range, picture.inner_width), pixels(picture.y_range, picture.inner_height)];
  let [best, least] = [-1, REACH_PX];
  for (let row = 0; row < page.count; row++) {
    const far = Math.hypot((page.valueAt(across, row) - x) * dx, (page.valueAt(up, row) - y) * dy);
    if (page.inside[row] && far < least) [best, least] = [row, far];
  }
  return best;
};

page.step = function (across, step) {
  const rows = [...page.inside.keys()]
    .filter((row) => (page.isMeant(row) || row === page.chosen) && !Number.isNaN(page.valueAt(across, row)));
  rows.sort((a, b) => page.valueAt(across, a) - page.valueAt(across, b) || a - b);
  const next = rows[rows.indexOf(page.chosen) + step];
  if (next !== undefined) page.choose(next);
};

/* One picture at a time where there is no room for all. */

page.startPairs = function () {
  const choice = document.getElementById("pair");
  const frames = [...document.querySelectorAll(".pair")];
  const show = () => {
    document.querySelector(".pictures").classList.toggle("single", choice.value !== "");
    frames.forEach((frame) => frame.classList.toggle("shown", frame.id === choice.value));
  };
  choice.addEventListener("change", show);
  show();
};
