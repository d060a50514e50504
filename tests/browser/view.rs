//! The view on a real canvas: every lens draws its own picture, and a lost context is restored completely.

use gridproof::view::{Painter, View};
use gridproof::web::Session;
use js_sys::{Promise, Uint8Array};
use std::collections::BTreeSet;
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use wasm_bindgen_test::wasm_bindgen_test;
use web_sys::{HtmlCanvasElement, WebGl2RenderingContext as Gl};

/// Width of the canvas, px; model and sheet take one half each.
const WIDTH: u32 = 320;
const HEIGHT: u32 = 160;
/// Colours a drawn model has at least: shading alone gives dozens.
const DRAWN_COLOURS: usize = 40;
/// Turns of the browser's event loop before a missing picture fails the test: far more than one takes.
const PATIENCE: usize = 2000;

struct Shown {
    canvas: HtmlCanvasElement,
    view: View,
    painter: Painter,
    mesh: JsValue,
    triangles: js_sys::Uint32Array,
    lines: JsValue,
}

/// Lets the browser work: shaders compile and fences pass in between.
async fn breathe() {
    let pause = Promise::new(&mut |resolve, _| {
        web_sys::window().unwrap().set_timeout_with_callback_and_timeout_and_arguments_0(&resolve, 1).unwrap();
    });
    JsFuture::from(pause).await.unwrap();
}

pub(crate) fn now() -> f64 {
    js_sys::Date::now()
}

/// A canvas of the page, px, and its painter, which has nothing to draw yet.
pub(crate) fn canvas_and_painter(width: u32, height: u32) -> (HtmlCanvasElement, Painter) {
    let document = web_sys::window().unwrap().document().unwrap();
    let canvas: HtmlCanvasElement = document.create_element("canvas").unwrap().unchecked_into();
    canvas.set_width(width);
    canvas.set_height(height);
    document.body().unwrap().append_child(&canvas).unwrap();
    // As in www/base/context.js.
    let attributes = js_sys::Object::new();
    for name in ["alpha", "antialias", "depth", "stencil"] {
        js_sys::Reflect::set(&attributes, &name.into(), &JsValue::FALSE).unwrap();
    }
    let context = canvas.get_context_with_context_options("webgl2", &attributes).unwrap().unwrap();
    let painter = Painter::new(context.unchecked_into()).ok().unwrap();
    (canvas, painter)
}

/// Draws until nothing more is to be drawn.
pub(crate) async fn settle(painter: &mut Painter) {
    for _ in 0..PATIENCE {
        if !painter.frame(now()).ok().unwrap() {
            return;
        }
        breathe().await;
    }
    panic!("the picture does not come to rest");
}

/// RGBA of a canvas on which a picture was drawn in this turn, rows from below.
pub(crate) fn read(canvas: &HtmlCanvasElement) -> Vec<u8> {
    let gl: Gl = canvas.get_context("webgl2").unwrap().unwrap().unchecked_into();
    let pixels = Uint8Array::new_with_length(canvas.width() * canvas.height() * 4);
    let (width, height) = (canvas.width() as i32, canvas.height() as i32);
    gl.read_pixels_with_opt_array_buffer_view(0, 0, width, height, Gl::RGBA, Gl::UNSIGNED_BYTE, Some(&pixels)).unwrap();
    pixels.to_vec()
}

impl Shown {
    async fn lantern() -> Self {
        let text = include_str!("../../demo/lantern-draft.obj");
        let mut session = Session::new(text.len() as f64, JsValue::UNDEFINED).ok().unwrap();
        session.feed(text.as_bytes()).unwrap();
        session.finish().unwrap();
        for stage in 0.. {
            if session.measure(stage).ok().unwrap().is_none() {
                break;
            }
        }
        let (canvas, mut painter) = canvas_and_painter(WIDTH, HEIGHT);
        let mut view = View::new();
        let half = f64::from(WIDTH / 2);
        let height = f64::from(HEIGHT);
        view.set_layout(WIDTH, HEIGHT, 1.0, &[0.0, 0.0, half, height], Some([half, 0.0, half, height].into()));
        let mesh: JsValue = session.mesh().ok().unwrap().into();
        view.set_extent(mesh.clone()).ok().unwrap();
        let triangles = session.triangles().ok().unwrap();
        let lines: JsValue = session.lines().ok().unwrap().into();
        painter.set_model(mesh.clone()).ok().unwrap();
        painter.set_triangles(triangles.clone()).ok().unwrap();
        painter.set_lines(lines.clone()).ok().unwrap();
        painter.set_sight(&view.sight(now())).ok().unwrap();
        let mut shown = Self { canvas, view, painter, mesh, triangles, lines };
        shown.settle().await;
        shown
    }

    async fn settle(&mut self) {
        settle(&mut self.painter).await;
    }

    /// RGBA of the canvas after a frame that redraws it; a canvas keeps no picture from one turn to the next.
    async fn pixels(&mut self) -> Vec<u8> {
        self.settle().await;
        self.painter.set_flags(false);
        self.painter.set_flags(true);
        assert!(self.painter.frame(now()).is_ok());
        read(&self.canvas)
    }
}

impl Drop for Shown {
    fn drop(&mut self) {
        self.canvas.remove();
    }
}

/// Different colours in columns `from..to`.
fn colours(pixels: &[u8], from: u32, to: u32) -> usize {
    let of_half = pixels.chunks_exact(4).enumerate().filter(|(at, _)| (from..to).contains(&(*at as u32 % WIDTH)));
    of_half.map(|(_, pixel)| pixel).collect::<BTreeSet<_>>().len()
}

#[wasm_bindgen_test]
async fn before_its_first_frame_a_canvas_has_the_background_colour() {
    let (canvas, mut painter) = canvas_and_painter(WIDTH, HEIGHT);
    let red = js_sys::Array::of3(&1.0.into(), &0.0.into(), &0.0.into());
    painter.set_theme(object(&[("stage", red.into())])).ok().unwrap();
    let mut view = View::new();
    view.set_layout(WIDTH, HEIGHT, 1.0, &[0.0, 0.0, WIDTH.into(), HEIGHT.into()], None);
    painter.set_sight(&view.sight(now())).ok().unwrap();
    assert!(painter.frame(now()).ok().unwrap());
    assert_eq!(painter.frames_drawn(), 0, "its programs are on their way");
    let gl: Gl = canvas.get_context("webgl2").unwrap().unwrap().unchecked_into();
    let pixel = Uint8Array::new_with_length(4);
    gl.read_pixels_with_opt_array_buffer_view(9, 9, 1, 1, Gl::RGBA, Gl::UNSIGNED_BYTE, Some(&pixel)).unwrap();
    assert_eq!(pixel.to_vec(), [255, 0, 0, 255]);
    canvas.remove();
}

#[wasm_bindgen_test]
async fn a_heavy_model_is_drawn_once_per_camera_while_it_is_measured() {
    let mut shown = Shown::lantern().await;
    let triangles = shown.triangles.clone();
    shown.painter.set_measuring(true);
    shown.painter.set_model(shown.mesh.clone()).ok().unwrap();
    // Every picture takes long.
    let mut clock = now();
    let mut rest = async |shown: &mut Shown| {
        for _ in 0..PATIENCE {
            clock += 200.0;
            if !shown.painter.frame(clock).ok().unwrap() {
                return shown.painter.frames_drawn();
            }
            breathe().await;
        }
        panic!("the picture does not come to rest");
    };
    let first = rest(&mut shown).await;
    assert!(shown.painter.shows_grid());
    shown.painter.set_triangles(triangles).ok().unwrap();
    assert_eq!(rest(&mut shown).await, first, "what is measured meanwhile draws nothing");
    shown.view.orbit(9.0, 0.0);
    shown.painter.set_sight(&shown.view.sight(now())).ok().unwrap();
    let turned = rest(&mut shown).await;
    assert!(turned > first, "the user rotates it");
    shown.painter.set_lens("stretch").ok().unwrap();
    let chosen = rest(&mut shown).await;
    assert!(chosen > turned, "another lens is drawn at once");
    shown.painter.set_measuring(true);
    shown.painter.set_lens("stretch").ok().unwrap();
    assert_eq!(rest(&mut shown).await, chosen, "the same lens is no change");
    shown.painter.set_lines(shown.lines.clone()).ok().unwrap();
    assert_eq!(rest(&mut shown).await, chosen);
    shown.painter.set_measuring(false);
    assert!(rest(&mut shown).await > chosen, "and the rest when it is done");
}

#[wasm_bindgen_test]
async fn every_lens_draws_model_and_sheet_differently() {
    let mut shown = Shown::lantern().await;
    let mut pictures = BTreeSet::new();
    let lenses = ["grid", "stretch", "density", "flipped", "overlaps", "seams", "text", "picture"];
    for lens in lenses {
        shown.painter.set_lens(lens).ok().unwrap();
        let pixels = shown.pixels().await;
        let (model, sheet) = (colours(&pixels, 0, WIDTH / 2), colours(&pixels, WIDTH / 2, WIDTH));
        assert!(model > DRAWN_COLOURS && sheet > DRAWN_COLOURS, "{lens}: {model} and {sheet} colours");
        pictures.insert(pixels);
    }
    assert_eq!(pictures.len(), lenses.len());
    shown.settle().await;
    assert!(shown.painter.shows_grid());
}

pub(crate) fn object(entries: &[(&str, JsValue)]) -> JsValue {
    let object = js_sys::Object::new();
    for (name, value) in entries {
        js_sys::Reflect::set(&object, &(*name).into(), value).unwrap();
    }
    object.into()
}

/// A look of some triangles: a picture, or -1.
fn look(picture: f64, first: u32, count: u32) -> JsValue {
    object(&[
        ("picture", picture.into()),
        ("colour", JsValue::NULL),
        ("clamp", 0.0.into()),
        ("runs", js_sys::Uint32Array::from(&[first, count][..]).into()),
    ])
}

/// Pixels of a strong red or blue, on the model and on the sheet.
fn strong(pixels: &[u8], channel: usize) -> [usize; 2] {
    let mut counts = [0; 2];
    for (at, pixel) in pixels.chunks_exact(4).enumerate() {
        let others = (0..3).filter(|&other| other != channel).map(|other| pixel[other]).max();
        if pixel[channel] > 120 && others < Some(40) {
            counts[usize::from(at as u32 % WIDTH >= WIDTH / 2)] += 1;
        }
    }
    counts
}

#[wasm_bindgen_test]
async fn pictures_are_on_their_triangles_and_released_with_their_looks() {
    let mut shown = Shown::lantern().await;
    let triangles = 10_648;
    shown.painter.set_lens("picture").ok().unwrap();
    let looks = js_sys::Array::of2(&look(7.0, 0, triangles / 2), &look(8.0, triangles / 2, triangles - triangles / 2));
    shown.painter.set_looks(looks.into(), 0).ok().unwrap();
    let bare = shown.pixels().await;
    assert_eq!([strong(&bare, 0), strong(&bare, 2)], [[0; 2]; 2], "paper, until they are there");
    for (number, colour) in [(7, [220, 10, 10, 255]), (8, [10, 10, 220, 255])] {
        let texels = Uint8Array::from(colour.repeat(6).as_slice());
        shown.painter.set_picture(number, 3, 2, &texels).ok().unwrap();
    }
    let both = shown.pixels().await;
    for channel in [0, 2] {
        let [model, sheet] = strong(&both, channel);
        assert!(model > 300 && sheet > 300, "channel {channel}: {model} on the model, {sheet} on the sheet");
    }
    shown.painter.set_looks(js_sys::Array::of1(&look(8.0, 0, triangles)).into(), -1).ok().unwrap();
    let one = shown.pixels().await;
    assert_eq!(strong(&one, 0), [0; 2]);
    assert!(strong(&one, 2)[0] > strong(&both, 2)[0]);
    shown.painter.set_looks(js_sys::Array::of1(&look(7.0, 0, triangles)).into(), -1).ok().unwrap();
    assert_eq!(strong(&shown.pixels().await, 0), [0; 2], "it was released");
    for (error, says) in [
        (shown.painter.set_looks(js_sys::Array::of1(&look(7.0, 1, triangles)).into(), -1).err(), "10648 triangles."),
        (shown.painter.set_looks(js_sys::Array::of1(&object(&[])).into(), -1).err(), "\"picture\""),
        (shown.painter.set_picture(7, 3, 2, &Uint8Array::new_with_length(20)).err(), "3 x 2 px came with 20 bytes."),
    ] {
        let error: JsValue = error.unwrap_or_else(|| panic!("{says} was taken")).into();
        let message = js_sys::Reflect::get(&error, &"message".into()).unwrap().as_string().unwrap();
        assert!(message.contains(says), "{message}");
    }
}

#[wasm_bindgen_test]
async fn an_edit_uploads_only_uvs_and_draws_the_edited_model() {
    let mut shown = Shown::lantern().await;
    let before = shown.pixels().await;
    let uv: js_sys::Float32Array = js_sys::Reflect::get(&shown.mesh, &"uv".into()).unwrap().dyn_into().unwrap();
    let halves: Vec<f32> = uv.to_vec().into_iter().map(|number| number * 0.5).collect();
    let moved = js_sys::Float32Array::from(halves.as_slice());
    let bytes = js_sys::eval(
        "(() => {
          const bytes = [];
          const { bufferSubData } = WebGL2RenderingContext.prototype;
          WebGL2RenderingContext.prototype.bufferSubData = function (target, offset, array, ...rest) {
            bytes.push((rest[1] ?? array.length) * array.BYTES_PER_ELEMENT);
            return bufferSubData.call(this, target, offset, array, ...rest);
          };
          return { take: () => bytes.splice(0), end: () => { WebGL2RenderingContext.prototype.bufferSubData = bufferSubData; } };
        })()",
    )
    .unwrap();
    let call = |name: &str| {
        let function: js_sys::Function = js_sys::Reflect::get(&bytes, &name.into()).unwrap().dyn_into().unwrap();
        function.call0(&bytes).unwrap()
    };
    let sum = |list: JsValue| js_sys::Array::from(&list).iter().filter_map(|bytes| bytes.as_f64()).sum::<f64>();
    shown.painter.set_uvs(moved.clone()).ok().unwrap();
    shown.settle().await;
    // The rulers' ticks are written again for each picture.
    let brought: f64 = sum(call("take"));
    let model = f64::from(uv.length()) * 4.0;
    assert!(brought >= model && brought < model + 20_000.0, "{brought} bytes for {model} of uvs");
    call("end");
    let changed = shown.pixels().await;
    assert!(colours(&changed, WIDTH / 2, WIDTH) > DRAWN_COLOURS && changed != before);

    // Equal to a model loaded with them; a restored context draws the same.
    let mesh = js_sys::Object::assign(&js_sys::Object::new(), shown.mesh.unchecked_ref());
    js_sys::Reflect::set(&mesh, &"uv".into(), &moved).unwrap();
    let (triangles, lines) = (shown.triangles.clone(), shown.lines.clone());
    shown.painter.set_model(mesh.into()).ok().unwrap();
    shown.painter.set_triangles(triangles).ok().unwrap();
    shown.painter.set_lines(lines).ok().unwrap();
    assert!(shown.pixels().await == changed);
    shown.painter.set_uvs(uv).ok().unwrap();
    assert!(shown.pixels().await == before, "undone exactly");
    assert!(shown.painter.set_uvs(js_sys::Float32Array::new_with_length(6)).is_err(), "of another model");
}

#[wasm_bindgen_test]
async fn a_restored_context_draws_the_same_picture() {
    let mut shown = Shown::lantern().await;
    let before = shown.pixels().await;
    let frames = shown.painter.frames_drawn();
    // Without a handler a loss is final; the page has one too.
    let answer = Closure::<dyn Fn(web_sys::Event)>::new(|event: web_sys::Event| event.prevent_default());
    shown.canvas.add_event_listener_with_callback("webglcontextlost", answer.as_ref().unchecked_ref()).unwrap();
    shown.painter.lose_context();
    for _ in 0..10 {
        breathe().await;
        assert!(!shown.painter.frame(now()).ok().unwrap(), "a lost context draws no frames");
    }
    assert_eq!(shown.painter.frames_drawn(), frames);
    shown.painter.restore_context();
    let gl: Gl = shown.canvas.get_context("webgl2").unwrap().unwrap().unchecked_into();
    for _ in 0..PATIENCE {
        if !gl.is_context_lost() {
            break;
        }
        breathe().await;
    }
    shown.painter.context_restored().ok().unwrap();
    let after = shown.pixels().await;
    let most = before.iter().zip(&after).map(|(a, b)| a.abs_diff(*b)).max();
    // One step of 8 bits: the rounding of a blend.
    assert!(most <= Some(1), "a channel is off by {most:?}");
}

#[wasm_bindgen_test]
async fn oversized_data_is_refused_with_a_sentence() {
    let mut shown = Shown::lantern().await;
    for (what, error) in [
        ("lens", shown.painter.set_lens("x-ray").err()),
        ("axis", shown.view.set_up("w").err()),
        ("words", shown.painter.set_triangles(js_sys::Uint32Array::new_with_length(4)).err()),
        ("triangle_count", shown.painter.set_model(js_sys::Object::new().into()).err()),
        ("position", shown.view.set_extent(js_sys::Object::new().into()).err()),
        ("numbers", shown.painter.set_sight(&[0.0; 4]).err()),
    ] {
        let error: JsValue = error.unwrap_or_else(|| panic!("{what} was taken")).into();
        let message = js_sys::Reflect::get(&error, &"message".into()).unwrap().as_string().unwrap();
        assert!(message.contains(what) && message.ends_with('.'), "{message}");
    }
    assert!(colours(&shown.pixels().await, 0, WIDTH / 2) > DRAWN_COLOURS, "what was there is still drawn");
}
