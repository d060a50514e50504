// Colours as stylesheets write them, and their contrast by WCAG 2.2.

/** @typedef {[r: number, g: number, b: number, a: number]} Colour 0..255, alpha 0..1 */

/**
 * Relative luminance: WCAG 2.2, "relative luminance", with the threshold 0.04045 of IEC 61966-2-1 that its note names.
 * @param {readonly number[]} colour 0..255
 */
export function luminance([r, g, b]) {
  const [R, G, B] = [r, g, b].map((part) => {
    const share = part / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * R + 0.7152 * G + 0.0722 * B;
}

/**
 * Contrast ratio, 1 to 21: WCAG 2.2, "contrast ratio".
 * @param {readonly number[]} one opaque
 * @param {readonly number[]} other opaque
 */
export function contrast(one, other) {
  const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (high + 0.05) / (low + 0.05);
}

/**
 * A colour composited over an opaque one.
 * @param {Colour} colour
 * @param {Colour} ground
 * @returns {Colour}
 */
export function over([r, g, b, a], [R, G, B]) {
  return [r * a + R * (1 - a), g * a + G * (1 - a), b * a + B * (1 - a), 1];
}

/**
 * A colour of a stylesheet.
 * @param {string} text `#rrggbb`, `rgb(r g b / a)`, `transparent`, `var(--name)`, or `color-mix(in srgb, …)`
 * @param {Map<string, string>} tokens values by name, without the dashes
 * @param {Colour} [current] what `currentColor` is
 * @returns {Colour}
 */
export function colourOf(text, tokens, current) {
  const value = text.trim();
  if (value === 'transparent') return [0, 0, 0, 0];
  if (/^currentcolor$/i.test(value)) {
    if (!current) throw new Error('currentColor of what?');
    return current;
  }
  const hex = /^#([0-9a-f]{6})$/i.exec(value);
  if (hex) return [...[0, 2, 4].map((at) => Number.parseInt(hex[1].slice(at, at + 2), 16)), 1];
  const rgb = /^rgb\(\s*([\d.]+) ([\d.]+) ([\d.]+)(?: \/ ([\d.]+))?\s*\)$/.exec(value);
  if (rgb) return [Number(rgb[1]), Number(rgb[2]), Number(rgb[3]), Number(rgb[4] ?? 1)];
  const name = /^var\(--([\w-]+)\)$/.exec(value)?.[1];
  if (name) {
    const token = tokens.get(name);
    if (token === undefined) throw new Error(`there is no token --${name}`);
    return colourOf(token, tokens, current);
  }
  const mix = /^color-mix\(in srgb, (.+) ([\d.]+)%, (.+)\)$/.exec(value);
  if (!mix) throw new Error(`“${value}” is no colour this test can read`);
  const share = Number(mix[2]) / 100;
  const [one, other] = [colourOf(mix[1], tokens, current), colourOf(mix[3], tokens, current)];
  // Premultiplied, as CSS Color 5 mixes.
  const alpha = one[3] * share + other[3] * (1 - share);
  const part = (at) => (alpha === 0 ? 0 : (one[at] * one[3] * share + other[at] * other[3] * (1 - share)) / alpha);
  return [part(0), part(1), part(2), alpha];
}

/**
 * A stylesheet's rules, flat; of nested at-rules the innermost condition.
 * @param {string} css
 * @returns {{condition: string, selector: string, declarations: [property: string, value: string][]}[]}
 */
export function rulesOf(css) {
  const rules = [];
  const walk = (text, condition) => {
    for (let at = 0; at < text.length; ) {
      const open = text.indexOf('{', at);
      if (open < 0) return;
      let close = open + 1;
      for (let depth = 1; depth > 0; close += 1) depth += text[close] === '{' ? 1 : text[close] === '}' ? -1 : 0;
      const head = text.slice(at, open).trim().replace(/\s+/g, ' ');
      const body = text.slice(open + 1, close - 1);
      if (/^@(media|container|supports)/.test(head)) walk(body, head);
      else {
        const declarations = body.split(';').map((line) => line.trim()).filter(Boolean)
          .map((line) => /** @type {[string, string]} */ ([line.slice(0, line.indexOf(':')).trim(), line.slice(line.indexOf(':') + 1).trim().replace(/\s+/g, ' ')]));
        rules.push({ condition, selector: head, declarations });
      }
      at = close;
    }
  };
  walk(css.replace(/\/\*[\s\S]*?\*\//g, ''), '');
  return rules;
}

/** Colours named in a declaration's value, outermost expressions only. */
export function coloursIn(value) {
  const found = [];
  for (let at = 0; at < value.length; at += 1) {
    const start = /^(?:color-mix\(|rgb\(|var\(--|#[0-9a-f]{6}\b|currentColor\b|transparent\b)/i.exec(value.slice(at));
    if (!start) continue;
    let end = at + start[0].length;
    for (let depth = start[0].includes('(') ? 1 : 0; depth > 0; end += 1) depth += value[end] === '(' ? 1 : value[end] === ')' ? -1 : 0;
    found.push(value.slice(at, end));
    at = end - 1;
  }
  return found;
}
