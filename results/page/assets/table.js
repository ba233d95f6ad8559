"use strict";
/* The table of the designs that are meant: sorted by a heading, a portion of rows at a time. */

page.startTable = function () {
  const PORTION = 40;
  const head = document.querySelector("#designs thead");
  const body = document.querySelector("#designs tbody");
  const more = document.getElementById("more-rows");
  const columns = ["trial", "architecture", ...page.data.objectives, ...page.data.variables.filter((name) => name !== "architecture")]
    .filter((name) => page.columns.has(name));
  const sort = { name: page.data.objectives[0], down: false };
  let rows = [];
  let shown = PORTION;

  const heading = (name) => {
    const column = page.columns.get(name);
    const button = page.make("button", { type: "button", title: `${name}: ${column.text}` },
      name === "architecture" ? "family" : column.label, page.make("small", {}, column.unit || " "));
    button.addEventListener("click", () => {
      sort.down = sort.name === name && !sort.down;
      sort.name = name;
      fill();
    });
    const cell = page.make("th", { scope: "col", class: column.kind === "number" ? null : "text", "data-name": name }, button);
    return cell;
  };
  head.append(page.make("tr", {}, ...columns.map(heading)));
  const headings = [...head.querySelectorAll("th")];

  const order = (a, b) => {
    const [left, right] = [page.valueAt(sort.name, a), page.valueAt(sort.name, b)];
    const [noLeft, noRight] = [left, right].map((value) => value == null || value === "" || Number.isNaN(value));
    if (noLeft || noRight) return noLeft - noRight || a - b; // what has no value comes last, either way
    const sign = sort.down ? -1 : 1;
    return sign * (typeof left === "string" ? left.localeCompare(right) : left - right) || a - b;
  };

  const cell = (name, row) => {
    if (name === "trial") {
      const mark = page.mark(row);
      return page.make("th", { scope: "row" }, page.letter(row), page.at(name, row), mark.tags.length ? " " : "",
        ...mark.tags.slice(0, 1).map((tag) => page.make("span", { class: "tag" }, tag)));
    }
    if (name === "architecture") {
      const family = page.familyOf(row);
      return page.make("td", { class: "text", title: family.label }, page.marker(family.marker, family.series),
        page.make("span", { class: "family-name" }, ` ${family.label}`));
    }
    return page.make("td", { class: page.columns.get(name).kind === "number" ? null : "text" }, page.at(name, row));
  };

  const line = (row) => page.make("tr", { "data-row": row, tabindex: -1, "aria-selected": row === page.chosen },
    ...columns.map((name) => cell(name, row)));

  const markChosen = () => {
    for (const each of body.children) {
      const is = Number(each.dataset.row) === page.chosen;
      each.setAttribute("aria-selected", is);
      each.tabIndex = is ? 0 : -1;
    }
    // Somebody who comes by keyboard must find a way in.
    if (!body.querySelector("[tabindex='0']") && body.firstChild) body.firstChild.tabIndex = 0;
  };

  const fill = () => {
    rows = [...Array(page.count).keys()].filter(page.isMeant).sort(order);
    body.replaceChildren(...rows.slice(0, shown).map(line));
    headings.forEach((each) => {
      if (each.dataset.name === sort.name) each.setAttribute("aria-sort", sort.down ? "descending" : "ascending");
      else each.removeAttribute("aria-sort");
    });
    document.getElementById("rows-shown").textContent =
      `${Math.min(shown, rows.length).toLocaleString("en")} of ${rows.length.toLocaleString("en")} designs`;
    more.hidden = shown >= rows.length;
    markChosen();
  };

  body.addEventListener("click", ({ target }) => {
    const row = target.closest("tr");
    if (row) page.choose(Number(row.dataset.row));
  });
  body.addEventListener("keydown", (event) => {
    const row = event.target.closest("tr");
    const next = { ArrowDown: row?.nextElementSibling, ArrowUp: row?.previousElementSibling }[event.key];
    if (event.key === "Enter") document.getElementById("design-title").focus();
    if (!next) return;
    event.preventDefault();
    page.choose(Number(next.dataset.row));
    next.focus();
  });
  more.addEventListener("click", () => { shown += PORTION; fill(); });
  page.on("meant", () => { shown = PORTION; fill(); });
  page.on("chosen", markChosen);
};
