// One triangle over the whole viewport.
out vec2 screen;

void main() {
  screen = vec2(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0);
  gl_Position = vec4(screen, 0.0, 1.0);
}
