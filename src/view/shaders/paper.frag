// The sheet below the shells: the grid, quiet in the tile and all but gone outside it.
in vec2 screen;
out vec4 colour;

uniform sampler2D grid;
uniform vec4 uv_from_clip;
uniform vec3 ground;

void main() {
  vec2 uv = screen * uv_from_clip.xy + uv_from_clip.zw;
  vec3 sheet = texture(grid, vec2(uv.x, -uv.y)).rgb;
  vec2 pixel = abs(uv_from_clip.xy) * 1e-6;
  bool inside = all(greaterThanEqual(uv, -pixel)) && all(lessThanEqual(uv, 1.0 + pixel));
  vec3 quiet = mix(PAPER_COLOUR, sheet, QUIET);
  colour = vec4(inside ? quiet : mix(ground, quiet, 0.36), 0.0);
}
