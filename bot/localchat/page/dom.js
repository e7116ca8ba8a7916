// Small helpers for building and ordering elements, and for the two live regions of the page.
// No markup is ever built from strings: texts become text nodes, so nothing typed can turn into HTML.

/**
 * A new element. `attributes` may hold event listeners (`onclick`), booleans and strings;
 * null, undefined and false leave an attribute out.
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

/** Make `wanted` the children of `parent`, in that order, moving only what is out of place. */
export function arrange(parent, wanted) {
  const keep = new Set(wanted);
  for (const child of [...parent.children]) if (!keep.has(child)) child.remove();
  wanted.forEach((child, place) => {
    if (parent.children[place] !== child) parent.insertBefore(child, parent.children[place] ?? null);
  });
}

/** Have a screen reader say `text`; `urgent` interrupts what it is saying. */
export function announce(text, { urgent = false } = {}) {
  const region = document.getElementById(urgent ? "assertive" : "polite");
  region.replaceChildren(make("p", {}, text));
}

/** Text cut at a word for use in a label. */
export function shortened(text, length = 48) {
  const line = text.replaceAll(/\s+/g, " ").trim();
  if (line.length <= length) return line;
  const cut = line.slice(0, length);
  return `${cut.slice(0, Math.max(cut.lastIndexOf(" "), length / 2))}…`;
}
