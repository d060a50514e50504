// Types of messages describe the page's side too, which has elements; the worker has none and only passes the name by.
interface HTMLCanvasElement {}
