// One triangle mesh, seen on the stage (STAGE) or laid out on the sheet. What the lens needs of a triangle is worked out
// here, once a corner, and goes on flat: by the lens's rules, which the module writes (src/lens/glsl.rs).

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
  uint bits = texel.z >> 24 | texel.w >> 16 << 8;
  bool mapped = (bits & MAPPED) != 0u;
  float value = 0.0;
  kind = KIND_OF(bits);
  mark = vec2(unpackHalf2x16((kind & SHAPE) == CHEVRONS ? texel.w : texel.y).x, 1.0);
#ifdef SCALE
  value = VALUE(texel.x);
  if (IS(value)) {
    mark.y = clamp(PLACE(value), 0.0, 1.0);
  } else {
    value = 0.0;
    kind = SILENT;
  }
#endif
  if ((bits & COLLAPSED) != 0u) kind |= FLATTENED;
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
  if (!mapped || (bits & ELSEWHERE) != 0u) gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
#endif
#endif
}
