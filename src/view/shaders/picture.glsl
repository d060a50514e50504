#ifdef PICTURE
// Its texels are linear light: 8 bits of lower precision would not do.
uniform highp sampler2D image;
// Scale of u and v, then their offset.
uniform vec4 placed;

// The image at a place of the sheet, in sRGB (IEC 61966-2-1). Its first row is the sheet's top.
vec3 pictured(vec2 uv) {
  vec2 place = uv * placed.xy + placed.zw;
  vec3 linear = texture(image, vec2(place.x, 1.0 - place.y)).rgb;
  return mix(12.92 * linear, 1.055 * pow(linear, vec3(1.0 / 2.4)) - 0.055, step(0.0031308, linear));
}
#endif
