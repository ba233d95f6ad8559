"use strict";
/* Light and dark: the style sheet does the page; Bokeh draws on canvases and is told its colours here. */

page.colour = (() => {
  const probe = page.make("span", { hidden: true });
  document.body.append(probe);
  return (name) => {
    probe.style.color = `var(--${name})`;
    return getComputedStyle(probe).color;
  };
})();

page.isDark = () => {
  const set = document.documentElement.dataset.theme;
  return set ? set === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
};

page.paint = function () {
  const [ink, soft, grid] = ["ink", "ink-soft", "grid"].map(page.colour);
  for (const picture of page.document?.roots() ?? []) {
    for (const axis of [...picture.below, ...picture.left]) {
      axis.axis_label_text_color = ink;
      axis.major_label_text_color = soft;
      axis.major_tick_line_color = grid;
    }
    for (const line of picture.center) line.grid_line_color = grid;
    for (const renderer of picture.renderers) {
      const tag = renderer.tags.find((each) => each.colour);
      if (!tag) continue;
      // A renderer may draw what is brushed, and what is not, with glyphs of their own.
      const glyphs = [renderer.glyph, renderer.selection_glyph, renderer.nonselection_glyph].filter((each) => each?.properties);
      for (const glyph of glyphs) page.paintGlyph(glyph, tag);
    }
  }
  page.tell("colours");
};

page.paintGlyph = function (glyph, { colour, line, ground }) {
  for (const key of line ? ["line_color"] : ["line_color", "text_color", "fill_color"]) {
    if (key in glyph) glyph[key] = page.colour(colour);
  }
  if (ground) glyph.background_fill_color = page.colour(ground);
};

page.startTheme = function () {
  const choice = document.getElementById("theme");
  choice.addEventListener("change", () => {
    document.documentElement.dataset.theme = choice.value;
    page.paint();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", page.paint);
  page.paint();
};
