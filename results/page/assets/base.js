"use strict";
/* What all parts of the page share: its data, its one table of designs, which of them are meant, and helpers.

   page.source   Bokeh's ColumnDataSource with every design shown, one place in it for each
   page.inside   for each place whether it is inside the limits and in a family that is switched on
   page.brushed  a Set of places, or null when nothing is brushed
   page.chosen   the place whose details are shown */
const page = { data: JSON.parse(document.getElementById("page-data").textContent), parts: {} };

page.columns = new Map(page.data.columns.map((column) => [column.name, column]));

/* Make an element; texts are set as texts, never as markup. */
page.make = function (tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value != null) element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child != null));
  return element;
};

page.marker = function (name, series) {
  const space = "http://www.w3.org/2000/svg";
  const picture = document.createElementNS(space, "svg");
  picture.setAttribute("class", "marker");
  picture.setAttribute("aria-hidden", "true");
  picture.style.color = `var(--series-${series})`;
  const use = document.createElementNS(space, "use");
  use.setAttribute("href", `#marker-${name}`);
  picture.append(use);
  return picture;
};

page.familyOf = (place) => page.data.families.find((family) => family.name === page.source.data.architecture[place]);

/* A value as a person reads it, without its unit. */
page.text = function (name, value) {
  const column = page.columns.get(name);
  if (value == null || value === "" || Number.isNaN(value)) return "–";
  if (column.kind === "bool") return value ? "yes" : "no";
  if (column.kind !== "number") return name === "architecture" ? String(value).replaceAll("_", " ") : String(value);
  const text = page.rounded(Number(value), column.digits);
  return Number(text) === 0 ? text.replace("-", "") : text;
};

/* As toFixed, but a tie goes to the even digit: so do all other tables of a run. */
page.rounded = function (value, digits) {
  const [beyond, text] = [40, value.toFixed(digits)];
  const exact = value.toFixed(digits + beyond);
  const head = exact.slice(0, -beyond).replace(/\.$/, "");
  return /^50*$/.test(exact.slice(-beyond)) && Number(head.at(-1)) % 2 === 0 ? head : text;
};

page.withUnit = function (name, value) {
  const { unit } = page.columns.get(name);
  const text = page.text(name, value);
  return unit && text !== "–" ? `${text} ${unit}` : text;
};

page.valueAt = (name, place) => page.source.data[name][place];
page.at = (name, place) => page.text(name, page.valueAt(name, place));

page.mark = (place) => page.data.marks[page.valueAt("trial", place)] ?? { letter: "", tags: [], note: "" };

page.letter = function (place) {
  const mark = page.mark(place);
  if (!mark.letter) return null;
  const title = mark.kept ? "kept" : "proposed, not kept";
  return page.make("span", { class: mark.kept ? "letter" : "letter proposed", title }, mark.letter);
};

page.isMeant = (place) => page.inside[place] && (page.brushed === null || page.brushed.has(place));

/* Parts of the page say what they do when something changes: colours, limits or brush ("meant"), the design. */
page.on = (what, then) => (page.parts[what] ??= []).push(then);
page.tell = (what) => (page.parts[what] ?? []).forEach((then) => then());

/* Do it once before the next picture, however often it is asked for. */
page.soon = function (task) {
  let waiting = false;
  return () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; task(); });
  };
};

page.choose = function (place) {
  page.chosen = place;
  page.tell("chosen");
};

page.model = (name) => page.document.get_model_by_name(name);
