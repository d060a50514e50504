// One triangle mesh, seen on the stage (STAGE) or laid out on the sheet. What the lens needs of a triangle is worked out
// here, once a corner, and goes on flat.

layout(location = 0) in vec3 position;
layout(location = 1) in vec2 uv;
layout(location = 2) in vec4 normal;

out vec2 at;

#ifdef STAGE
#ifdef FIRST
// Attributes, whose places are known; of uniforms they would have to be asked for.
layout(location = 3) in mat4 clip_from_model;
layout(location = 7) in vec3 light_up;
layout(location = 8) in vec3 light_key;
#else
uniform mat4 clip_from_model;
uniform vec3 light_up;
uniform vec3 light_key;
#endif
uniform float unit_from_model;
// On the front and on the back.
out vec2 light;
#else
uniform vec4 clip_from_uv;
#endif

#ifdef MEASURED
uniform usampler2D triangles;
flat out uint kind;
// Direction of the pattern, radians; place on the scale, or size of the pattern.
flat out vec2 mark;

#ifdef LIMITS
// Greatest anisotropy, octaves either way.
uniform vec2 limits;
#endif
#ifdef FADING
uniform usampler2D shell_states;
uniform uint shell_count;
uniform bool choosing;
uniform vec2 isolate;
flat out float keep;
#endif
#endif

void main() {
  at = uv;
#ifdef MEASURED
  int index = gl_VertexID / 3;
  uvec4 texel = texelFetch(triangles, ivec2(index & (TRIANGLES_WIDTH - 1), index >> TRIANGLES_WIDTH_LOG2), 0);
  uint flags = texel.z >> 24;
  uint state = texel.w >> 16;
  bool mapped = (flags & MAPPED) != 0u;
  kind = 0u;
  mark = vec2(0.0);
  float value = 0.0;

#if defined(LENS_STRETCH)
  vec2 stretch = unpackHalf2x16(texel.x);
  value = stretch.x;
  if (stretch.x > 0.0) {
    float size = clamp(log2(stretch.x) * STRETCH_SCALE, 0.0, 1.0);
    mark = vec2(unpackHalf2x16(texel.y).x, size);
    kind = stretch.x > STROKES_FROM ? STROKES : NOTHING;
    if (stretch.x > limits.x) kind |= OUTSIDE_OTHERWISE;
  } else {
    kind = SILENT;
  }
#elif defined(LENS_DENSITY)
  value = unpackHalf2x16(texel.x).y;
  if (isnan(value) || (state & COLLAPSED) != 0u || (state & MEASURED_BIT) == 0u) {
    value = 0.0;
    kind = SILENT;
  } else {
    mark.y = clamp(value * SIZE_SCALE + 0.5, 0.0, 1.0);
    kind = abs(value) <= limits.y ? NOTHING : value < 0.0 ? MINUS | OUTSIDE : PLUS | OUTSIDE_OTHERWISE;
  }
#elif defined(LENS_FLIPPED)
  kind = (flags & FOLDED) != 0u ? HATCH | OUTSIDE : (flags & FLIPPED) != 0u ? BARS | OUTSIDE_OTHERWISE : NOTHING;
#elif defined(LENS_OVERLAPS)
  kind = (flags & PARTIAL_OVERLAP) != 0u ? BRICKS | OUTSIDE_OTHERWISE
       : (flags & MIRRORED) != 0u ? CHEVRONS | OUTSIDE
       : (flags & STACKED) != 0u ? DOTS | OUTSIDE_OTHERWISE : NOTHING;
  mark.x = unpackHalf2x16(texel.w).x;
#elif defined(LENS_TEXT)
  if ((state & UNSAFE) != 0u) {
    // The gravest reason: backwards, doubled, out of shape, leaning.
    kind = (flags & REVERSED) != 0u ? BARS : (flags & (MIRRORED | STACKED | PARTIAL_OVERLAP)) != 0u ? DOTS
         : (flags & STRETCHED) != 0u || (state & COLLAPSED) != 0u ? STROKES : STEMS;
    mark = vec2(unpackHalf2x16(texel.y).x, 1.0);
    kind |= VEILED | OUTSIDE_OTHERWISE;
  }
#else
#ifdef FLAGS
  // The gravest one: a fold cannot be painted, lettering comes out backwards, doubled, or drawn out.
  uint shown = flags & (FOLDED | FLIPPED | MIRRORED | STRETCHED);
  if (shown != 0u) {
    kind = (shown & FOLDED) != 0u ? HATCH : (shown & FLIPPED) != 0u ? BARS : (shown & MIRRORED) != 0u ? CHEVRONS : STROKES;
    mark = vec2(unpackHalf2x16(kind == CHEVRONS ? texel.w : texel.y).x, 1.0);
    kind |= OUTSIDE_OTHERWISE;
  }
#endif
#ifdef LEANING
  if (kind == NOTHING && (state & TILTED) != 0u) kind = STEMS;
#endif
#endif
  if ((state & COLLAPSED) != 0u) kind |= FLATTENED;
  if (!mapped) kind = UNMAPPED;
#ifdef FADING
  uint shell = texel.z & 0xFFFFFFu;
  bool lit = shell < shell_count && texelFetch(shell_states, ivec2(shell & 2047u, shell >> 11), 0).r != 0u;
  keep = (choosing && !lit) || value < isolate.x || value > isolate.y ? 0.0 : 1.0;
  if (keep == 0.0) kind &= ~(OUTSIDE | OUTSIDE_OTHERWISE | SHAPE);
#endif
#endif

#ifdef STAGE
#ifdef MEASURED
  // Without a place on the sheet, patterns take an oblique section through the model's own space.
  if ((kind & (FLATTENED | UNMAPPED)) != 0u) {
    at = vec2(dot(position, vec3(0.79, -0.21, 0.58)), dot(position, vec3(0.25, 0.94, -0.22))) * unit_from_model;
  }
#endif
  gl_Position = clip_from_model * vec4(position, 1.0);
  float up = dot(normal.xyz, light_up) * 0.09;
  float key = dot(normal.xyz, light_key);
  light = vec2(0.71 + up + 0.21 * max(key, 0.0), 0.65 - up + 0.20 * max(-key, 0.0));
#else
  gl_Position = vec4(uv * clip_from_uv.xy + clip_from_uv.zw, 0.0, 1.0);
#ifdef MEASURED
  if (!mapped || (state & ELSEWHERE) != 0u) gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
#endif
#endif
}
