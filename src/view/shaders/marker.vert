// A ring around one place.
uniform vec2 centre;
uniform vec2 viewport;
uniform float radius;
out vec2 offset;

void main() {
  vec2 corner = vec2((gl_VertexID & 1) == 0 ? -1.0 : 1.0, gl_VertexID < 2 ? -1.0 : 1.0);
  offset = corner * (radius + 4.0);
  gl_Position = vec4(centre + offset * 2.0 / viewport, 0.0, 1.0);
}
