// Puts a finished picture on the canvas, and with CONTOUR the line between its classes (see surface.frag).
in vec2 screen;
out vec4 colour;

uniform sampler2D picture;
uniform vec2 origin;
#ifdef CONTOUR
uniform float reach;
#endif

void main() {
  ivec2 here = ivec2(gl_FragCoord.xy - origin);
  vec4 drawn = texelFetch(picture, here, 0);
  vec3 shown = drawn.rgb;
#ifdef CONTOUR
  ivec2 last = textureSize(picture, 0) - 1;
  float least = drawn.a, most = drawn.a, far_least = drawn.a, far_most = drawn.a;
  for (int i = 0; i < 8; i++) {
    float angle = float(i) * 0.785398;
    vec2 step_ = vec2(cos(angle), sin(angle)) * reach;
    float near = texelFetch(picture, clamp(here + ivec2(round(step_)), ivec2(0), last), 0).a;
    float far = texelFetch(picture, clamp(here + ivec2(round(step_ * 2.0)), ivec2(0), last), 0).a;
    least = min(least, near);
    most = max(most, near);
    far_least = min(far_least, far);
    far_most = max(far_most, far);
  }
  // A light hem keeps the line apart from dark colours.
  shown = mix(shown, PAPER_COLOUR, 0.55 * smoothstep(0.1, 0.4, far_most - far_least));
  shown = mix(shown, INK_COLOUR, 0.95 * smoothstep(0.1, 0.4, most - least));
#endif
  colour = vec4(shown, 1.0);
}
