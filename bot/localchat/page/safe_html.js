// The server's HTML of a message, copied element by element. The server has cleaned it already;
// this second sieve lets through only what a chat message can hold.

const PLAIN = new Set(["B", "STRONG", "I", "EM", "U", "INS", "S", "DEL", "CODE", "PRE", "BLOCKQUOTE", "BR"]);
const LINKS = /^(https?:|mailto:|tel:)/i;

/** A fragment with the texts and the permitted elements of `html`. */
export function safeFragment(html) {
  const parsed = new DOMParser().parseFromString(html, "text/html");
  const fragment = document.createDocumentFragment();
  copyChildren(parsed.body, fragment);
  return fragment;
}

function copyChildren(source, target) {
  for (const node of source.childNodes) {
    if (node.nodeType === Node.TEXT_NODE) target.append(node.textContent);
    else if (node.nodeType === Node.ELEMENT_NODE) copyElement(node, target);
  }
}

function copyElement(element, target) {
  if (element.tagName === "SCRIPT" || element.tagName === "STYLE") return;
  const copy = permitted(element);
  if (copy === null) {
    copyChildren(element, target);
    return;
  }
  copyChildren(element, copy);
  target.append(copy);
}

function permitted(element) {
  if (PLAIN.has(element.tagName)) return document.createElement(element.tagName);
  const address = element.getAttribute("href") ?? "";
  if (element.tagName !== "A" || !LINKS.test(address)) return null;
  const link = document.createElement("a");
  link.href = address;
  link.target = "_blank";
  link.rel = "noopener noreferrer";
  return link;
}
