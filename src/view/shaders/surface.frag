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

const vec3 PLAIN = vec3(0.80, 0.785, 0.76);

#ifdef MEASURED
vec3 tinted(vec3 paper, vec3 tint, float part) {
  return paper * mix(vec3(1.0), tint, part);
}

vec3 flag_colour(uint kind) {
  return kind == STROKES ? STRETCHED_COLOUR : kind == BARS ? FLIPPED_COLOUR : kind == HATCH ? FOLDED_COLOUR
       : kind == CHEVRONS ? MIRRORED_COLOUR : kind == DOTS ? STACKED_COLOUR : kind == STEMS ? TILTED_COLOUR : PARTIAL_OVERLAP_COLOUR;
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
    paper = mix(PLAIN, PLAIN * MARK, dots);
  } else if ((kind & SILENT) != 0u) {
    paper = PLAIN;
  } else {
#ifdef SCALE
    paper = texture(scale, vec2(mark.y * (255.0 / 256.0) + 0.5 / 256.0, 0.5)).rgb;
#else
    if ((kind & FLATTENED) != 0u) paper = PAPER_COLOUR;
#endif
  }
#ifdef LENS_TEXT
  if ((kind & VEILED) != 0u) paper = mix(paper, PLAIN, VEIL);
#endif
  if (shape != NOTHING) {
    vec2 along = isnan(mark.x) ? vec2(1.0, 0.0) : vec2(cos(mark.x), sin(mark.x));
    float cover = pattern(shape, px, dx, dy, along, mark.y);
#ifdef SCALE
    // Ink on light colours, paper on dark ones.
    float light_ground = dot(paper, vec3(0.2126, 0.7152, 0.0722));
    paper = mix(paper, light_ground >= INK_FROM ? INK_COLOUR : PAPER_COLOUR, cover);
#else
    vec3 hue = flag_colour(shape);
#ifdef LEANING
    if (shape != STEMS)
#endif
    paper = tinted(paper, hue, TINT);
    paper = mix(paper, hue * MARK, cover * STRENGTH);
#endif
  }
#endif

#ifdef STAGE
  paper *= gl_FrontFacing ? light.x : light.y;
#ifdef FADING
  paper = mix(ground, paper, 0.28 + 0.72 * keep);
#endif
#else
  // Multiplied with what lies below, so that two layers show darker than one. A picture covers it, to be seen as it is.
#ifdef GRID
  paper *= vec3(0.90, 0.915, 0.905);
#elif !defined(PICTURE)
  paper *= 0.97;
#endif
#ifdef FADING
  paper = mix(vec3(1.0), paper, 0.3 + 0.7 * keep);
#endif
#endif
  colour = vec4(paper, class_);
}
