// Alpha carries the class (0 within the limits, 0.5 and 1 outside them) to the composition, which draws the contour between classes.

in vec2 at;
out vec4 colour;

uniform vec2 map_px;

#ifdef STAGE
in vec2 light;
#endif

#ifdef GRID
uniform sampler2D grid;
#endif
#ifdef PICTURE
// A colour instead of the image, where its last number is 1.
uniform vec4 plain;
#endif
#ifdef SCALE
uniform sampler2D scale;
#endif
#ifdef MEASURED
flat in uint kind;
flat in vec2 mark;
#ifdef FADING
flat in float keep;
uniform vec3 ground;
#endif
#endif

#ifdef MEASURED
vec3 tinted(vec3 paper, vec3 tint, float part) {
  return paper * mix(vec3(1.0), tint, part);
}
#endif

void main() {
#ifdef GRID
  // Row 0 of the texture is the sheet's top; it repeats, so -v is 1 - v.
  vec3 paper = texture(grid, vec2(at.x, -at.y)).rgb;
#elif defined(PICTURE)
  vec3 paper = plain.a > 0.5 ? plain.rgb : pictured(at);
#else
  vec3 paper = PAPER_COLOUR;
#endif
  float class_ = 0.0;

#ifdef MEASURED
  vec2 px = at * map_px;
  vec2 dx = dFdx(px), dy = dFdy(px);
  class_ = (kind & OUTSIDE) != 0u ? 0.5 : (kind & OUTSIDE_OTHERWISE) != 0u ? 1.0 : 0.0;
  uint shape = kind & SHAPE;
  if ((kind & UNMAPPED) != 0u) {
    float dots = pattern(DOTS, px * 0.7, dx * 0.7, dy * 0.7, vec2(1.0, 0.0), 0.0);
    paper = mix(PLAIN_COLOUR, PLAIN_COLOUR * MARK, dots);
  } else if ((kind & SILENT) != 0u) {
    paper = PLAIN_COLOUR;
  } else {
#ifdef SCALE
    paper = texture(scale, vec2(mark.y * (255.0 / 256.0) + 0.5 / 256.0, 0.5)).rgb;
#else
    if ((kind & FLATTENED) != 0u) paper = PAPER_COLOUR;
#endif
  }
  if ((kind & VEILED) != 0u) paper = mix(paper, PLAIN_COLOUR, VEIL);
#ifdef SCALE
  // Ink on light colours, paper on dark ones.
  vec3 ink = LIGHTNESS(paper) >= INK_FROM ? INK_COLOUR : PAPER_COLOUR;
#endif
#ifdef CIRCLES
  if ((kind & (SILENT | FLATTENED | UNMAPPED)) == 0u) {
    paper = mix(paper, ink, CIRCLE_STRENGTH * circle(fract(at) * map_px / cell_px, dx / cell_px, dy / cell_px));
  }
#endif
  if (shape != NOTHING) {
    vec2 along = isnan(mark.x) ? vec2(1.0, 0.0) : vec2(cos(mark.x), sin(mark.x));
    float cover = pattern(shape, px, dx, dy, along, mark.y);
#ifdef SCALE
    paper = mix(paper, ink, cover);
#else
    vec3 hue = COLOUR_OF(shape);
    if ((kind & UNTINTED) == 0u) paper = tinted(paper, hue, TINT);
    paper = tinted(paper, hue * MARK, cover * STRENGTH);
#endif
  }
#endif

#ifdef STAGE
  paper *= gl_FrontFacing ? light.x : light.y;
#ifdef FADING
  paper = mix(ground, paper, 0.28 + 0.72 * keep);
#endif
#else
  // Laid over the sheet and one another by the blend (see draw_sheet). A picture covers what is below, to be seen as it is.
#ifdef GRID
  paper *= vec3(0.90, 0.915, 0.905);
#elif !defined(PICTURE)
  paper *= 0.97;
#endif
#ifdef FADING
  paper = mix(vec3(1.0), paper, 0.3 + 0.7 * keep);
#endif
#ifdef LAYERED
  paper /= 1.0 + LAYER;
#endif
#endif
  colour = vec4(paper, class_);
}
