// Lines of constant width: each segment is one instance of a quad. Above the 24 bits of its shell stands what is known of
// a seam (0: it is none): its share in front in 2 bits, and 1 more than its exposure in 6.

#ifdef STAGE
layout(location = 0) in vec3 from;
layout(location = 1) in vec3 to;
layout(location = 2) in uvec2 sides;
uniform mat4 clip_from_model;
// Drawn this much nearer to the eye, so that a line lies on its surface and not in it.
uniform vec3 eye;
#else
layout(location = 0) in vec2 from;
layout(location = 1) in vec2 to;
layout(location = 2) in uint sides;
uniform vec4 clip_from_uv;
#endif

uniform vec2 viewport;
uniform float width;
#ifdef CHOSEN
uniform usampler2D shell_states;
uniform uint shell_count;
uniform vec3 chosen_colour;
uniform vec3 partner_colour;
flat out vec3 chosen;
#endif
#ifdef HOVERED
uniform uint hovered;
#endif

#ifdef SEAMS
// Least and greatest exposure; what is outside them fades.
uniform vec2 isolate;
flat out float strength;
#endif

out float across;
flat out float half_width;

const float LEAST_W = 1e-5;

vec4 placed(
#ifdef STAGE
  vec3 point) {
  return clip_from_model * vec4(mix(point, eye, 0.0015), 1.0);
#else
  vec2 point) {
  return vec4(point * clip_from_uv.xy + clip_from_uv.zw, 0.0, 1.0);
#endif
}

#ifdef CHOSEN
uint state_of(uint shell) {
  return shell < shell_count ? texelFetch(shell_states, ivec2(shell & 2047u, shell >> 11), 0).r : 0u;
}
#endif

void main() {
  vec4 a = placed(from), b = placed(to);
  bool drawn = a.w > LEAST_W || b.w > LEAST_W;
#ifdef STAGE
  uvec2 shells = sides & 0xFFFFFFu;
  uint seen = sides.x >> 24;
#else
  uint shells = sides & 0xFFFFFFu;
  uint seen = sides >> 24;
#endif
#ifdef CHOSEN
#ifdef STAGE
  uint state = max(state_of(shells.x), state_of(shells.y));
#else
  uint state = state_of(shells);
#endif
  drawn = drawn && state != 0u;
  chosen = state == 2u ? chosen_colour : partner_colour;
#endif
#ifdef HOVERED
#ifdef STAGE
  drawn = drawn && (shells.x == hovered || shells.y == hovered);
#else
  drawn = drawn && shells == hovered;
#endif
#endif
  across = 0.0;
  half_width = width * 0.5;
#ifdef SEAMS
  float front = float(seen >> 6) / 3.0;
  float exposure = (float(seen & 63u) - 1.0) / 62.0;
  bool kept = seen != 0u && exposure >= isolate.x - 0.5 / 62.0 && exposure <= isolate.y + 0.5 / 62.0;
  strength = seen == 0u ? 0.3 : kept ? 0.45 + 0.55 * max(front, exposure) : 0.1;
  half_width *= kept ? mix(0.36, 1.0, front) : 0.3;
#endif
  if (!drawn) {
    gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
    return;
  }
  // What is behind the eye has no place on the screen.
  if (a.w < LEAST_W) a = mix(a, b, (LEAST_W - a.w) / (b.w - a.w));
  if (b.w < LEAST_W) b = mix(b, a, (LEAST_W - b.w) / (a.w - b.w));
  vec2 span = (b.xy / b.w - a.xy / a.w) * viewport * 0.5;
  float length_px = length(span);
  vec2 along = length_px > 1e-6 ? span / length_px : vec2(1.0, 0.0);
  float reach = half_width + 1.0;
  bool at_end = gl_VertexID > 1;
  float side = (gl_VertexID & 1) == 0 ? -1.0 : 1.0;
  across = side * reach;
  vec2 moved = vec2(-along.y, along.x) * side * reach + along * (at_end ? 0.6 : -0.6) * half_width;
  vec4 clip = at_end ? b : a;
  clip.xy += moved * 2.0 / viewport * clip.w;
  gl_Position = clip;
}
