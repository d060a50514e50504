// The sheet below the shells: the grid or a picture (PICTURE), quiet in the map's tiles and all but gone outside them.
in vec2 screen;
out vec4 colour;

#ifdef PICTURE
uniform vec4 plain;
#else
uniform sampler2D grid;
#endif
// Column and row of a tile: 1 where the map has one.
uniform usampler2D tiles;
uniform vec4 uv_from_clip;
uniform vec3 ground;

void main() {
  vec2 uv = screen * uv_from_clip.xy + uv_from_clip.zw;
#ifdef PICTURE
  vec3 sheet = plain.a > 0.5 ? plain.rgb : pictured(uv);
#else
  vec3 sheet = texture(grid, vec2(uv.x, -uv.y)).rgb;
#endif
  ivec2 tile = ivec2(clamp(floor(uv), vec2(-1.0), vec2(1e6)));
  bool known = all(greaterThanEqual(tile, ivec2(0))) && all(lessThan(tile, textureSize(tiles, 0)));
  bool inside = known && texelFetch(tiles, tile, 0).r != 0u;
  vec3 quiet = mix(PAPER_COLOUR, sheet, QUIET);
  colour = vec4(inside ? quiet : mix(ground, quiet, 0.36), 0.0);
}
