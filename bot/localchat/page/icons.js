// The page's own line drawings on a 24 by 24 grid. They are decoration: the button that
// carries one has its words as text or as a label.

const SVG = "http://www.w3.org/2000/svg";

const LINES = {
  pencil: "M5 19l1-4.200L16.200 4.800l3 3L9 18zM14 7l3 3",
  answer: "M9 6.500L4.500 11 9 15.500M4.500 11H14a5.500 5.500 0 0 1 5.500 5.500V18",
  more: "M12 5v14M5 12h14",
  commands: "M4 7h9M4 12h16M4 17h12",
  file: "M6 3.500h8l4 4v13H6zM14 3.500v4h4M9 12.500h6M9 16h6",
  sticker: "M4.500 4.500h15v9l-6 6h-9zM19.500 13.500h-6v6M9 9.200v.6M14.500 9.200v.6",
  voice: "M4.500 10.500v3M8.200 7.500v9M12 4.500v15M15.800 8.500v7M19.500 10.500v3",
  place: "M12 21c-4-5-6-8-6-11a6 6 0 0 1 12 0c0 3-2 6-6 11zM12 9v2",
  block: "M6 12h12M12 3.500a8.500 8.500 0 1 0 0 17 8.500 8.500 0 0 0 0-17z",
  down: "M12 5v13M6.500 12.500L12 18l5.500-5.500",
  close: "M6 6l12 12M18 6L6 18",
};

/** One drawing, hidden from screen readers. */
export function icon(name) {
  const svg = document.createElementNS(SVG, "svg");
  const path = document.createElementNS(SVG, "path");
  svg.setAttribute("viewBox", "0 0 24 24");
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("class", "icon");
  path.setAttribute("d", LINES[name]);
  svg.append(path);
  return svg;
}
