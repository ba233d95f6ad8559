"use strict";
/* The design that is chosen: what it is made of, its figures, how near its limits it is, its traces. */

page.startDesign = function () {
  page.on("chosen", () => {
    page.showStrip();
    page.showDetails();
    page.showTraces();
  });
  page.on("colours", () => { if (page.chosen !== undefined) page.showTraces(); });
};

/* A line at the foot of the window, so that a choice is seen wherever it was made. */
page.showStrip = function () {
  const family = page.familyOf(page.chosen);
  const name = page.make("span", { class: "name" }, page.letter(page.chosen), page.make("b", {}, `trial ${page.at("trial", page.chosen)} `),
    page.marker(family.marker, family.series), ` ${family.label}`);
  const values = page.data.objectives.map((objective) => page.make("span", {},
    page.make("small", {}, `${page.columns.get(objective).label} `), page.withUnit(objective, page.valueAt(objective, page.chosen))));
  document.getElementById("chosen").replaceChildren(name, ...values, page.make("a", { href: "#design" }, "Details"));
};

page.showDetails = function () {
  const trial = page.at("trial", page.chosen);
  const mark = page.mark(page.chosen);
  const family = page.familyOf(page.chosen);
  document.getElementById("design-title").replaceChildren("Design ", page.letter(page.chosen) ?? "", `trial ${trial}`);
  const parts = [
    page.make("p", {}, page.marker(family.marker, family.series), ` ${family.label} `, ...mark.tags.map((tag) => page.make("span", { class: "tag" }, tag))),
    mark.note ? page.make("p", { class: "note" }, mark.note) : null,
    page.valueAt("feasible", page.chosen) ? null : page.make("p", {}, page.whyNot(page.chosen)),
    page.make("div", { class: "tiles" }, ...page.data.objectives.map(page.tile)),
    page.make("h3", {}, "What it is made of"), page.list("variable"),
    page.make("h3", {}, "Margins"),
    page.make("p", { class: "how" }, `Slack to each limit${page.statisticOf("margin")}; not negative is met.`), page.list("margin"),
    page.make("details", {}, page.make("summary", {}, "All further figures"),
      page.make("p", { class: "how" }, "Of the nominal machine."), page.list("figure")),
    page.commands(trial),
  ];
  const open = document.querySelector("#details details")?.open;
  document.getElementById("details").replaceChildren(...parts.filter(Boolean));
  if (open) document.querySelector("#details details").open = true;
};

/* What the columns of a group are, where they are more than the nominal machine's. */
page.statisticOf = function (group) {
  const said = page.data.columns.find((column) => column.group === group)?.kept_by;
  return said ? `, kept by ${said}` : "";
};

/* Why a design that is not feasible is not. */
page.whyNot = function (place) {
  const reason = page.valueAt("reason", place) || page.valueAt("fault", place);
  const broken = page.data.columns.filter((column) => column.group === "margin" && page.valueAt(column.name, place) < 0);
  if (!reason && !broken.length) return "Not feasible.";
  return `Not feasible: ${reason || broken.map((column) => column.label).join(", ")}.`;
};

page.tile = function (name) {
  const column = page.columns.get(name);
  const tile = page.make("div", { class: "tile", title: `${name}: ${column.text}` }, column.label,
    page.make("b", {}, page.at(name, page.chosen), " ", page.make("small", {}, column.unit)));
  const nominal = `${name}_nominal`;
  const isSame = page.columns.has(nominal) && page.at(nominal, page.chosen) === page.at(name, page.chosen);
  if (page.columns.has(nominal) && column.kept_by) {
    tile.append(isSame ? "also nominal" : `nominal ${page.withUnit(nominal, page.valueAt(nominal, page.chosen))}`);
  }
  for (const site of page.sitesOf(name)) tile.append(page.make("br"), `${site.label}: ${page.withUnit(site.name, page.valueAt(site.name, page.chosen))}`);
  return tile;
};

/* The columns of single sites that belong to a column. */
page.sitesOf = (name) => page.data.columns.filter((column) => column.group === "site" && column.name.startsWith(`${name}@`))
  .map((column) => ({ name: column.name, label: column.name.slice(name.length + 1) }));

page.list = function (group) {
  const rows = [];
  for (const column of page.data.columns) {
    if (column.group !== group || column.name === "architecture") continue;
    for (const { name, label } of [{ name: column.name, label: "" }, ...page.sitesOf(column.name)]) {
      const value = page.valueAt(name, page.chosen);
      if (page.text(name, value) === "–") continue;
      const isBad = group === "margin" && value < 0;
      rows.push(page.make("div", { title: `${name}: ${column.text}` },
        page.make("dt", {}, column.label + (label ? ` (${label})` : ""),
          column.source && !label ? page.make("small", {}, column.source) : null),
        page.make("dd", { class: isBad ? "bad" : null }, page.withUnit(name, value) + (isBad ? ", not met" : ""))));
    }
  }
  return page.make("dl", {}, ...rows);
};

page.commands = function (trial) {
  const run = page.data.command;
  const name = page.mark(page.chosen).letter || trial;
  const lines = [`boilerfront trace ${run} ${name} --out trace.png`, `boilerfront explain ${run} ${name}`,
    `boilerfront pick ${run} --keep ${trial} --note "why"`, `boilerfront pack ${run} ${name} --out pack`];
  return page.make("details", { class: "commands" }, page.make("summary", {}, "What to type next"),
    ...lines.map((line) => page.make("code", {}, line)));
};

/* Traces */

page.showTraces = function () {
  const trial = page.valueAt("trial", page.chosen);
  const trace = page.data.traces[trial];
  const text = document.getElementById("trace-text");
  document.getElementById("trace-pictures").hidden = !trace;
  if (!trace) {
    text.replaceChildren(...page.withoutTrace(trial));
    return;
  }
  const ready = trace.ready_s === null ? "never ready" : `ready after ${trace.ready_s.toFixed(0)} s`;
  const where = page.data.traced_site ? ` at ${page.data.traced_site}` : "";
  text.replaceChildren(`Through the duty${where} from a cold start: ${ready}, ${trace.verdict}. Set-point ${trace.set_point_C.toFixed(0)} °C.`);
  page.showLegend(trace);
  page.showCourse("trace-temperature", trace);
  page.showCourse("trace-power", trace);
  page.showShots(trace);
};

/* What the lines of the pictures are in this machine. */
page.showLegend = function (trace) {
  for (const line of document.querySelectorAll("#trace-pictures .line[data-column]")) {
    line.hidden = !(line.dataset.column in trace.labels);
    line.querySelector("span").textContent = trace.labels[line.dataset.column] ?? "";
  }
};

/* Lines over the whole duty; a line that this design lacks is blank. */
page.showCourse = function (name, trace) {
  const lines = page.model(`${name}-lines`);
  const columns = Object.keys(lines.data).filter((column) => column !== "time_min");
  const blank = trace.time_s.map(() => NaN);
  const numbers = (column) => trace.columns[column]?.map((value) => value ?? NaN) ?? blank;
  lines.data = { time_min: trace.time_s.map((time) => time / 60), ...Object.fromEntries(columns.map((column) => [column, numbers(column)])) };
  for (const kind of ["shot", "other"]) {
    const spans = trace.spans.filter(([what]) => (what === "shot") === (kind === "shot"));
    page.model(`${name}-${kind}-strips`).data = { from_min: spans.map((span) => span[1] / 60), to_min: spans.map((span) => span[2] / 60) };
  }
  page.model(`${name}-ready`).data = { at_min: trace.ready_s === null ? [] : [trace.ready_s / 60] };
  const known = columns.flatMap((column) => trace.columns[column] ?? []).filter((value) => value !== null);
  page.model(`${name}-time`).setv({ start: 0, end: trace.time_s.at(-1) / 60 });
  page.model(`${name}-range`).setv({ start: Math.min(0, ...known), end: 1.05 * Math.max(1, ...known) });
};

/* Every shot since its pump start, close to the set-point: as far as they go, but no farther than a person cares for. */
page.showShots = function (trace) {
  const [least, most] = [1, 8];
  const deviation = page.valueAt("shot_deviation_K", page.chosen);
  const half = Number.isFinite(deviation) ? deviation : 0.5;
  const ramp = page.data.ramps[page.isDark() ? "dark" : "light"];
  const spans = trace.spans.filter(([what]) => what === "shot");
  const shots = spans.map(([, begin, end]) => trace.time_s
    .map((time, row) => [time - begin, trace.columns.shot_C[row]])
    .filter(([since, value]) => value !== null && since >= 0 && since <= end - begin));
  const ends = shots.map((shot) => shot.at(-1) ?? [NaN, NaN]);
  const off = shots.flat().filter(([since]) => since >= trace.scored_from_s).map(([, value]) => Math.abs(value - trace.set_point_C));
  const view = Math.min(Math.max(1.3 * Math.max(0, ...off), 2 * half, least), most);
  page.model("shots").data = {
    since_s: shots.map((shot) => shot.map(([since]) => since)),
    shot_C: shots.map((shot) => shot.map(([, value]) => value)),
    end_s: ends.map(([since]) => since),
    end_C: ends.map(([, value]) => value),
    // Numbers of shots that end near one another stand side by side.
    aside_px: ends.map(([since, value], place) => 4 + 11 * ends.slice(0, place)
      .filter(([before, there]) => Math.abs(before - since) < 2 && Math.abs(there - value) < 0.15 * view).length),
    number: shots.map((_, place) => String(place + 1)),
    from_min: spans.map((span) => span[1] / 60),
    colour: shots.map((_, place) => ramp[Math.round((place / Math.max(1, shots.length - 1)) * (ramp.length - 1))]),
  };
  page.model("scored-line").data = { at_s: [trace.scored_from_s] };
  page.model("deviation-band").data = { low: [trace.set_point_C - half], high: [trace.set_point_C + half] };
  page.model("trace-shot-time").setv({ start: 0, end: 1.05 * Math.max(1, ...ends.map(([since]) => since || 0)) });
  page.model("trace-shot-range").setv({ start: trace.set_point_C - view, end: trace.set_point_C + view });
};

page.withoutTrace = function (trial) {
  const traced = Object.keys(page.data.traces).map(Number);
  if (!traced.length) return ["This page has no traces. ", page.make("code", {}, `boilerfront trace ${page.data.command} ${trial}`), " makes one."];
  const places = new Map(Array.from(page.source.data.trial, (number, place) => [number, place]));
  const spans = page.data.objectives.map((name) => page.spanOf(name));
  const far = (place) => Math.hypot(...page.data.objectives.map((name, k) =>
    (page.valueAt(name, place) - page.valueAt(name, page.chosen)) / (spans[k][1] - spans[k][0] || 1)));
  const near = traced.map((number) => places.get(number)).reduce((a, b) => (far(b) < far(a) ? b : a));
  return [
    `Traces are in this page for ${traced.length} designs: those with a letter or a mark and a spread of others. This one has none; `,
    page.make("code", {}, `boilerfront trace ${page.data.command} ${trial}`), " makes one. The nearest in its figures that has some: ",
    page.make("button", { type: "button", onclick: () => page.choose(near) }, `trial ${page.at("trial", near)}`), ".",
  ];
};
