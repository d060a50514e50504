/** Small helpers to reach and make elements. */

const SVG = "http://www.w3.org/2000/svg";

/**
 * The element with this id, of this class; a page without it is broken, so anything else throws.
 * @template {Element} T
 * @param {string} id
 * @param {new () => T} kind
 * @returns {T}
 */
export function byId(id, kind) {
  const element = document.getElementById(id);
  if (!(element instanceof kind)) throw new Error(`the page has no ${kind.name} #${id}`);
  return element;
}

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, string>} [attributes]
 * @param {...(Node | string)} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/**
 * @template {keyof SVGElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, string | number>} [attributes]
 * @param {...(Node | string)} children
 * @returns {SVGElementTagNameMap[K]}
 */
export function draw(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/**
 * A drawing defined once in index.html.
 * @param {string} symbol its id
 * @param {string} [className]
 */
export function icon(symbol, className = "icon") {
  return draw("svg", { class: className, "aria-hidden": "true" }, draw("use", { href: `#${symbol}` }));
}

/**
 * Build settings of the site: the words of a `meta` of the page, none where it is missing or empty.
 * @param {string} name
 */
export function metaWords(name) {
  const meta = document.querySelector(`meta[name="${name}"]`);
  return (meta?.getAttribute("content") ?? "").split(" ").filter(Boolean);
}

/**
 * Makes an element without focusable content focusable while it overflows, so that it can be scrolled by keyboard.
 * @param {HTMLElement} element
 */
export function scrollByKeys(element) {
  const look = () => {
    if (element.scrollHeight > element.clientHeight || element.scrollWidth > element.clientWidth) element.tabIndex = 0;
    else element.removeAttribute("tabindex");
  };
  new ResizeObserver(look).observe(element);
  new MutationObserver(() => requestAnimationFrame(look)).observe(element, { childList: true, subtree: true, characterData: true });
}

/** Whether reduced motion is preferred. */
export function calm() {
  return matchMedia("(prefers-reduced-motion: reduce)").matches;
}
