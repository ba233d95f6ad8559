"use strict";
/* Begin when Bokeh's document stands. */

page.start = function () {
  page.document = window.Bokeh?.documents[0];
  page.source = page.document?.get_model_by_name("designs");
  if (page.source) {
    page.count = page.source.data.trial.length;
    page.inside = Array(page.count).fill(true);
    page.brushed = null;
    page.startFront();
    page.startTable();
    page.startDesign();
  }
  page.startTheme();
  page.startInfluence();
  if (page.source) {
    page.tell("meant");
    page.choose(Math.max(0, Array.from(page.source.data.trial).indexOf(page.data.first)));
  }
  document.documentElement.dataset.ready = Math.round(performance.now());
};

page.startInfluence = function () {
  const choice = document.getElementById("influence-of");
  const tables = [...document.querySelectorAll(".influence")];
  choice?.addEventListener("change", () => tables.forEach((each, place) => { each.hidden = place !== Number(choice.value); }));
};

page.await = function () {
  if (!page.data.has_pictures) return page.start();
  const standing = window.Bokeh?.documents[0];
  if (standing?.is_idle) return page.start();
  return standing ? standing.idle.connect(page.start) : requestAnimationFrame(page.await);
};
page.await();
