// Patterns that stay about the same size on the screen. They live on the sheet, in px of the map: a lattice whose cells
// are powers of two, so that it never slides, and blends from one power to the next. Every pattern is a distance, covered
// over the width of one pixel, and fades to its mean before it could shimmer.

// Pattern cells on the screen are between half of this and this, px.
uniform float pattern_px;

float covered(float outside, float pixel) {
  return clamp(0.5 - outside / pixel, 0.0, 1.0);
}

// `cell` in cells of the lattice, `pixel` the width of a pixel in cells, `along` a direction of length 1, `size` 0..1.
float pattern_at(uint kind, vec2 cell, float pixel, vec2 along, float size) {
  vec2 brick = vec2(cell.x + 0.5 * mod(floor(cell.y), 2.0), cell.y);
  vec2 inner = fract(brick) - 0.5;
  vec2 turned = vec2(dot(inner, along), dot(inner, vec2(-along.y, along.x)));
  float outside;
  if (kind == STROKES) {
    outside = length(vec2(max(abs(turned.x) - 0.1 - 0.26 * size, 0.0), turned.y)) - LINE;
  } else if (kind == BARS) {
    outside = abs(fract((cell.x + cell.y) * 0.7071) - 0.5) - BAR;
  } else if (kind == HATCH) {
    vec2 lines = abs(fract(vec2(cell.x + cell.y, cell.x - cell.y) * 2.1213) - 0.5);
    outside = min(lines.x, lines.y) / 3.0 - 0.7 * LINE;
  } else if (kind == CHEVRONS) {
    float front = turned.x + abs(turned.y) * 0.9;
    float arms = min(abs(front - 0.3), abs(front - 0.02)) * 0.74 - LINE;
    outside = max(arms, abs(turned.y) - 0.27);
  } else if (kind == DOTS) {
    outside = length(inner) - 0.17;
  } else if (kind == BRICKS) {
    vec2 wall = vec2(cell.x + 0.5 * mod(floor(cell.y * 2.0), 2.0), cell.y * 2.0);
    vec2 joint = abs(fract(wall - 0.5) - 0.5) * vec2(1.0, 0.5);
    outside = min(joint.x, joint.y) - 0.7 * LINE;
  } else if (kind == STEMS) {
    // Up the sheet, whichever way that is on the surface.
    vec2 far = abs(inner);
    float head = max(abs(inner.y - 0.3 + far.x * 1.2) * 0.64 - 0.8 * LINE, far.x - 0.2);
    outside = min(max(far.x - 0.8 * LINE, far.y - 0.3), head);
  } else {
    float arm = 0.12 + 0.18 * size;
    vec2 far = abs(inner);
    outside = max(far.x - arm, far.y - LINE);
    if (kind == PLUS) outside = min(outside, max(far.y - arm, far.x - LINE));
  }
  return covered(outside, pixel);
}

#ifdef CIRCLES
uniform float cell_px;

// Coverage of the line of the circle in a cell of the grid; `cell` in cells, its derivatives on the screen. The line keeps
// its width however it is seen.
float circle(vec2 cell, vec2 dx, vec2 dy) {
  vec2 inner = fract(cell) - 0.5;
  float off = length(inner);
  vec2 outwards = inner / max(off, 1e-4);
  float pixel = max(length(vec2(dot(outwards, dx), dot(outwards, dy))), 1e-6);
  float line = covered(abs(off - RING_RADIUS) - 0.5 * CIRCLE_WIDTH * pattern_px * pixel, pixel);
  return line * (1.0 - smoothstep(CIRCLE_FADES.x, CIRCLE_FADES.y, pixel));
}
#endif

// Coverage 0..1 at `px` of the map, whose derivatives on the screen are given.
float pattern(uint kind, vec2 px, vec2 dx, vec2 dy, vec2 along, float size) {
  // The singular values of the derivatives. The lesser one is the direction the surface is not foreshortened in.
  float a = dot(dx, dx), b = dot(dy, dy), c = dot(dx, dy);
  float most = sqrt(0.5 * (a + b + sqrt((a - b) * (a - b) + 4.0 * c * c)));
  float least = max(abs(dx.x * dy.y - dx.y * dy.x) / max(most, 1e-20), most * 0.125);
  float level = log2(max(least * pattern_px, 1e-12));
  float whole = floor(level);
  float scale = exp2(-whole);
  float pixel = 0.5 * (most + least) * scale;
  float cover = pattern_at(kind, px * scale, pixel, along, size);
  float next = smoothstep(0.8, 1.0, level - whole);
  if (next > 0.0) cover = mix(cover, pattern_at(kind, px * scale * 0.5, pixel * 0.5, along, size), next);
  return mix(cover, MEAN, smoothstep(0.25, 0.6, pixel));
}
