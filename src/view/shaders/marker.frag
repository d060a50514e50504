in vec2 offset;
out vec4 colour;

uniform vec3 ink;
uniform float radius;
uniform float width;

void main() {
  float off = abs(length(offset) - radius);
  float line = clamp(width * 0.5 + 0.5 - off, 0.0, 1.0);
  float hem = clamp(width * 0.5 + 2.0 - off, 0.0, 1.0) * 0.9;
  float middle = clamp(width * 0.75 + 0.5 - length(offset), 0.0, 1.0);
  line = max(line, middle);
  colour = vec4(mix(PAPER_COLOUR, ink, line), max(line, hem));
}
