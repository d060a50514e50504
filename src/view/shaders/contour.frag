// Puts a finished picture on the canvas with the line between its classes (see surface.frag).
in vec2 screen;
out vec4 colour;

uniform sampler2D picture;
uniform vec2 origin;
uniform float reach;
uniform float strength;

void main() {
  ivec2 here = ivec2(gl_FragCoord.xy - origin);
  vec4 drawn = texelFetch(picture, here, 0);
  vec3 shown = drawn.rgb;
  // Classes differ by a half or a whole; their samples are already mixed along the edge, which keeps the line smooth.
  ivec2 last = textureSize(picture, 0) - 1;
  float least = drawn.a, most = drawn.a, light = 0.0;
  for (int i = 0; i < 4; i++) {
    vec2 way = i == 0 ? vec2(1.0, 0.4) : i == 1 ? vec2(-0.4, 1.0) : i == 2 ? vec2(-1.0, -0.4) : vec2(0.4, -1.0);
    vec4 there = texelFetch(picture, clamp(here + ivec2(round(way * reach)), ivec2(0), last), 0);
    least = min(least, there.a);
    most = max(most, there.a);
    light = max(light, LIGHTNESS(there.rgb));
  }
  float step_ = most - least;
  // Ink, no darker where it lies on other ink; and paper where all that lies around is dark.
  vec3 line = light >= INK_FROM ? min(shown, mix(PAPER_COLOUR, INK_COLOUR, strength)) : mix(shown, PAPER_COLOUR, strength);
  shown = mix(shown, line, smoothstep(0.06, 0.62, step_));
  colour = vec4(shown, 1.0);
}
