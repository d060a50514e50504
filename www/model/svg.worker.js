/**
 * Draws the module's drawing of the sheet, an SVG, on a canvas: browsers draw no SVG in a worker, and on the page's own
 * thread a large one would block everything else. Supports only what `src/draw/sheet.rs` writes: groups with inherited
 * attributes, rectangles, circles, paths, text, and patterns of them.
 *
 * As an image on the page, the drawing of 10,000 shells at 4096 px blocked the page for 17 s.
 */

/** @typedef {Record<string, string>} Attributes */
/** @typedef {CanvasPattern | string} Paint */
/** @typedef {OffscreenCanvasRenderingContext2D} Pen */

/** Elements drawn between two pauses: some milliseconds of small ones. */
const ELEMENTS_AT_ONCE = 500;
/** Pattern cells are drawn this many times as fine as they are used, so that their edges stay sharp. */
const PATTERN_FINENESS = 2;

/** @type {Record<string, string>} */
const ENTITIES = { "&lt;": "<", "&gt;": ">", "&quot;": '"', "&#39;": "'", "&amp;": "&" };

/**
 * Width and height of a drawing, px.
 * @param {string} svg
 */
export function sizeOf(svg) {
  const { attributes } = tagAt(svg, svg.indexOf("<svg"));
  return { width: Math.round(Number(attributes.width)), height: Math.round(Number(attributes.height)) };
}

/**
 * @param {Pen} pen
 * @param {string} svg
 * @param {(done: number) => Promise<void>} rest called regularly with the drawn share; cancels by throwing
 */
export async function drawSvg(pen, svg, rest) {
  /** @type {Map<string, CanvasPattern>} */
  const patterns = new Map();
  /** @type {Attributes[]} */
  const groups = [{}];
  /** @type {{id: string, size: number, pen: Pen} | null} */
  let pattern = null;
  let drawn = 0;
  for (let at = svg.indexOf("<"); at >= 0; at = svg.indexOf("<", at)) {
    const { name, attributes, closes, end } = tagAt(svg, at);
    at = end;
    if (name === "g") {
      if (closes) groups.pop();
      else groups.push({ ...groups.at(-1), ...attributes });
    } else if (name === "pattern") {
      if (!closes) pattern = beginPattern(attributes);
      else if (pattern) patterns.set(`url(#${pattern.id})`, endPattern(pen, pattern));
      if (closes) pattern = null;
    } else if (!closes) {
      draw(pattern?.pen ?? pen, name, pattern ? attributes : { ...groups.at(-1), ...attributes }, patterns, () => textFrom(svg, end));
      drawn += 1;
      if (drawn % ELEMENTS_AT_ONCE === 0) await rest(at / svg.length);
    }
  }
}

/**
 * The tag that begins here. Attributes are in double quotes, and what could end one is escaped.
 * @param {string} svg
 * @param {number} start
 */
function tagAt(svg, start) {
  const end = svg.indexOf(">", start) + 1;
  const closes = svg[start + 1] === "/";
  let at = start + (closes ? 2 : 1);
  while (/[a-z]/i.test(svg[at] ?? "")) at += 1;
  const name = svg.slice(start + (closes ? 2 : 1), at);
  /** @type {Attributes} */
  const attributes = {};
  for (let equals = svg.indexOf('="', at); equals >= 0 && equals < end; equals = svg.indexOf('="', at)) {
    const close = svg.indexOf('"', equals + 2);
    attributes[svg.slice(at, equals).trim()] = svg.slice(equals + 2, close);
    at = close + 1;
  }
  return { name, attributes, closes, end };
}

/**
 * @param {string} svg
 * @param {number} start
 */
function textFrom(svg, start) {
  return svg.slice(start, svg.indexOf("<", start)).replace(/&[#\w]+;/g, (entity) => ENTITIES[entity] ?? entity);
}

/**
 * @param {Pen} pen
 * @param {string} name
 * @param {Attributes} attributes
 * @param {Map<string, CanvasPattern>} patterns
 * @param {() => string} text
 */
function draw(pen, name, attributes, patterns, text) {
  const number = (/** @type {string} */ key) => Number(attributes[key] ?? 0);
  const opacity = (/** @type {string} */ key) => Number(attributes[key] ?? 1);
  const paint = (/** @type {string} */ key) => {
    const value = attributes[key] ?? "none";
    return value === "none" ? null : (patterns.get(value) ?? value);
  };
  const [fill, stroke] = [paint("fill"), paint("stroke")];
  pen.lineWidth = Number(attributes["stroke-width"] ?? 1);
  pen.lineJoin = /** @type {CanvasLineJoin} */ (attributes["stroke-linejoin"] ?? "miter");
  pen.lineCap = /** @type {CanvasLineCap} */ (attributes["stroke-linecap"] ?? "butt");
  if (fill) pen.fillStyle = fill;
  if (stroke) pen.strokeStyle = stroke;
  if (name === "text") {
    pen.font = `${attributes["font-weight"]} ${attributes["font-size"]}px ${attributes["font-family"]}`;
    pen.textAlign = "center";
    pen.globalAlpha = 1;
    // The outline is drawn first, below the letters.
    if (stroke) pen.strokeText(text(), number("x"), number("y"));
    if (fill) pen.fillText(text(), number("x"), number("y"));
    return;
  }
  const path = new Path2D(name === "path" ? attributes.d : undefined);
  if (name === "rect") path.rect(number("x"), number("y"), number("width"), number("height"));
  else if (name === "circle") path.arc(number("cx"), number("cy"), number("r"), 0, 2 * Math.PI);
  else if (name !== "path") return;
  if (fill) {
    pen.globalAlpha = opacity("fill-opacity");
    pen.fill(path);
  }
  if (stroke) {
    pen.globalAlpha = opacity("stroke-opacity");
    pen.stroke(path);
  }
}

/** @param {Attributes} attributes */
function beginPattern(attributes) {
  const size = Number(attributes.width);
  const side = Math.max(1, Math.round(size * PATTERN_FINENESS));
  const pen = new OffscreenCanvas(side, side).getContext("2d");
  if (!pen) throw new Error("This browser gives no canvas to draw on. Choose SVG.");
  const units = Number((attributes.viewBox ?? "").split(" ")[2]);
  pen.scale(side / units, side / units);
  return { id: attributes.id ?? "", size, pen };
}

/**
 * @param {Pen} pen
 * @param {{size: number, pen: Pen}} pattern
 */
function endPattern(pen, pattern) {
  const { canvas } = pattern.pen;
  const made = pen.createPattern(canvas, "repeat");
  if (!made) throw new Error("This browser makes no patterns. Leave the flags out, or choose SVG.");
  const scale = pattern.size / canvas.width;
  made.setTransform(new DOMMatrix([scale, 0, 0, scale, 0, 0]));
  return made;
}
