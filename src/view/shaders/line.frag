in float across;
flat in float half_width;
out vec4 colour;

uniform vec4 ink;
#ifdef CHOSEN
flat in vec3 chosen;
#endif
#ifdef SEAMS
flat in float strength;
#endif
#ifdef OCCLUDED
// Drawn over the finished picture: what is behind a surface stays, faintly.
uniform highp sampler2D depth;
uniform vec2 origin;
#endif

void main() {
  float cover = clamp(half_width + 0.5 - abs(across), 0.0, 1.0) * ink.a;
#ifdef OCCLUDED
  if (gl_FragCoord.z > texelFetch(depth, ivec2(gl_FragCoord.xy - origin), 0).r) cover *= 0.25;
#endif
#ifdef SEAMS
  cover *= strength;
#endif
#ifdef CHOSEN
  colour = vec4(chosen, cover);
#elif defined(DARKEST)
  // Blended by the least of both: of many lines over one place the darkest is seen, and not their sum.
  colour = vec4(mix(vec3(1.0), ink.rgb, cover), 0.0);
#else
  colour = vec4(ink.rgb, cover);
#endif
}
